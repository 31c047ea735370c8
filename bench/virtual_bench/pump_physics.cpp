#include "bench/virtual_bench/pump_physics.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::bench {

double parabolic_wave(double phase) {
    const double f = phase - std::floor(phase);
    return f < 0.5 ? 16 * f * (0.5 - f) : -16 * (f - 0.5) * (1 - f);
}

double parabolic_wave_integral(double phase) {
    const double f = phase - std::floor(phase);
    const double g = f < 0.5 ? f : f - 0.5;
    const double half = g * g * (4 - g * (16.0 / 3));
    return f < 0.5 ? half : 1.0 / 3 - half;
}

PumpPhysics::PumpPhysics(const BenchTruth& truth, double scale_error_relative)
    : scale_(1 + scale_error_relative),
      wear_per_s_(truth.pump_wear_percent_h / 100 / 3600),
      ripple_(truth.pump_ripple_percent / 100),
      mL_per_roller_(truth.pump_mL_per_turn / truth.pump_rollers_per_turn),
      slew_mL_s2_(truth.pump_max_mL_min / 60 / std::max(truth.pump_ramp_s, 1e-3)) {}

void PumpPhysics::command(double flow_mL_min) {
    if (!runs_on_) target_mL_s_ = flow_mL_min / 60;
}

double PumpPhysics::step(double dt_s) {
    const double target = stalled_ ? 0 : target_mL_s_;
    if (target == 0 && speed_mL_s_ == 0) return 0;
    const double wanted = target - speed_mL_s_;
    const double reachable = slew_mL_s2_ * dt_s;
    double turned_mL = 0;  // by the pump's own scale
    if (std::abs(wanted) <= reachable) {
        const double ramping_s = std::abs(wanted) / slew_mL_s2_;
        turned_mL = target * dt_s - wanted / 2 * ramping_s;
        speed_mL_s_ = target;
    } else {
        const double change = wanted > 0 ? reachable : -reachable;
        turned_mL = (speed_mL_s_ + change / 2) * dt_s;
        speed_mL_s_ += change;
    }
    const double rollers = turned_mL / mL_per_roller_;
    const double before = parabolic_wave_integral(phase_);
    phase_ += rollers;
    phase_ -= std::floor(phase_);
    const double pulsating = rollers + ripple_ * (parabolic_wave_integral(phase_) - before);
    const double moved_mL = pulsating * mL_per_roller_ * per_nominal_mL();
    seconds_run_ += dt_s;
    return moved_mL;
}

}  // namespace tipwright::bench
