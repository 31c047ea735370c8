// What a calibration says of a gauge's single tips.
#include <cmath>

#include "calib/rain/rain_meter.hpp"

namespace tipwright::calib {

RainGauge rain_gauge(const Gauge& gauge, const std::vector<StepObservation>& observations) {
    RainGauge out;
    out.nominal_mm = gauge.nominal_tip_mm;
    out.max_intensity_mm_h = gauge.max_intensity_mm_h;
    if (gauge.inlet == Inlet::siphon)
        out.siphon_mm = 10 * gauge.siphon_volume_mL / gauge.catch_area_cm2().value;
    double scatter = 0, scatter_weight = 0, excess = 0;
    int with_excess = 0;
    for (const StepObservation& step : observations) {
        const double weight = step.scatter.dof > 0 ? step.scatter.dof : 0;
        const double relative = step.scatter.sd_percent / 100;
        scatter += weight * (relative * relative);
        scatter_weight += weight;
        if (step.compartments) {
            excess += step.compartments->a_excess_percent / 100;
            ++with_excess;
        }
    }
    out.scatter_relative = scatter_weight > 0 ? std::sqrt(scatter / scatter_weight) : 0.01;
    if (with_excess > 0) out.a_excess_relative = excess / with_excess;
    return out;
}

}  // namespace tipwright::calib
