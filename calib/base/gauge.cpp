#include "calib/base/gauge.hpp"

#include <numbers>

namespace tipwright::calib {

Uncertain Gauge::catch_area_cm2() const {
    const double diameter_cm = catch_diameter_mm.value / 10;
    const double area = std::numbers::pi / 4 * diameter_cm * diameter_cm;
    return {area, 2 * area * catch_diameter_mm.u / catch_diameter_mm.value, catch_diameter_mm.dof};
}

// 1 mm over 1 cm2 is 0.1 mL.
double Gauge::nominal_tip_mL() const {
    return nominal_tip_mm * catch_area_cm2().value / 10;
}

double intensity_mm_h(double flow_mL_min, double catch_area_cm2) {
    return 600 * flow_mL_min / catch_area_cm2;
}

double flow_mL_min(double intensity_mm_h, double catch_area_cm2) {
    return intensity_mm_h * catch_area_cm2 / 600;
}

}  // namespace tipwright::calib
