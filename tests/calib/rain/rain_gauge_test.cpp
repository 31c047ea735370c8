#include <catch2/catch.hpp>
#include <cmath>

#include "calib/rain/rain_meter.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

StepObservation step_of(double sd_percent, double dof) {
    StepObservation out;
    out.scatter.sd_percent = sd_percent;
    out.scatter.dof = dof;
    return out;
}

}  // namespace

TEST_CASE("rain gauge: single tips scatter as the steps that know it say, by their degrees of freedom",
          "[rain]") {
    const Gauge gauge;
    // By hand: (9 * 1 + 27 * 4) / 36.
    CHECK(rain_gauge(gauge, {step_of(1, 9), step_of(2, 27)}).scatter_relative ==
          Approx(0.01 * std::sqrt((9 * 1.0 + 27 * 4.0) / 36)));
    // A step that knows none does not count.
    CHECK(rain_gauge(gauge, {step_of(1, 9), step_of(5, 0)}).scatter_relative == Approx(0.01));
    CHECK(rain_gauge(gauge, {step_of(0.5, 9), step_of(5, 0)}).scatter_relative == Approx(0.005));
    // Of none a hundredth, common practice, no source.
    CHECK(rain_gauge(gauge, {step_of(5, 0)}).scatter_relative == Approx(0.01));
    CHECK(rain_gauge(gauge, {}).scatter_relative == Approx(0.01));
}
