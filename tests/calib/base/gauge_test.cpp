#include "calib/base/gauge.hpp"

#include <catch2/catch.hpp>

using namespace tipwright::calib;

// Geometry, computed by hand: 200 mm and 0.2 mm: 314.16 cm2, 6.283 mL, 5.236 mL/min at 10 mm/h.
TEST_CASE("a 200 mm gauge has the area, tip volume and flows that geometry gives") {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    const Uncertain area = gauge.catch_area_cm2();
    CHECK(area.value == Approx(314.159265).epsilon(1e-8));
    CHECK(area.u / area.value == Approx(2 * 0.1 / 200).epsilon(1e-12));
    CHECK(gauge.nominal_tip_mL() == Approx(6.2831853).epsilon(1e-8));
    CHECK(flow_mL_min(10, area.value) == Approx(5.2359878).epsilon(1e-8));
    CHECK(intensity_mm_h(5.2359878, area.value) == Approx(10).epsilon(1e-7));
}
