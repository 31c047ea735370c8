#include "report/tables/column_decimals.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;

TEST_CASE("every row of a column has the decimals that its U allow together") {
    std::vector<calib::StepResult> steps(2);
    // u that makes U = 2 u very nearly: an infinite number of degrees of freedom, 95.45 %.
    constexpr double coverage = 0.9545;
    steps[0].reference_intensity_mm_h = calib::Uncertain{10.17, 0.255};
    steps[1].reference_intensity_mm_h = calib::Uncertain{199.3, 1.31};
    steps[0].indicated_intensity_mm_h = 10.0;
    steps[1].indicated_intensity_mm_h = 197.29;
    steps[0].observation.set_intensity_mm_h = 7.5;
    steps[1].observation.set_intensity_mm_h = 200;
    steps[0].volume_per_tip_mL = {6.389, 0.0305};
    steps[1].volume_per_tip_mL = {6.349, 0.0115};
    steps[0].error_expanded.U = 0.96;
    steps[1].error_expanded.U = 0.38;
    const report::StepDecimals found = report::decimals_of(steps, coverage);
    CHECK(found.set == 1);
    CHECK(found.reference == 1);
    // Counted and timed: e can be worked out again from the page.
    CHECK(found.indicated == 2);
    CHECK(found.volume == 3);
    CHECK(found.error == 2);
    // A static check has no rates.
    steps[0].reference_intensity_mm_h.reset();
    steps[1].reference_intensity_mm_h.reset();
    steps[0].indicated_intensity_mm_h.reset();
    steps[1].indicated_intensity_mm_h.reset();
    CHECK(report::decimals_of(steps, coverage).indicated == 0);
}
