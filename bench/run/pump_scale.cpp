#include "bench/run/pump_scale.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::bench {

namespace {

// Tube ageing 0.5 to 2 % per hour (standards: common practice, no source).
constexpr double wear_u_per_hour = 0.01;
// Departure of a peristaltic pump from proportionality between two of its rates.
constexpr double rate_change_u = 0.004;

}  // namespace

double PumpScale::relative_u(double time_s) const {
    const double hours = std::max(0.0, time_s - time_s_) / 3600;
    return std::sqrt(variance_ + wear_u_per_hour * wear_u_per_hour * hours * hours);
}

void PumpScale::learn(double measured_scale, double relative_u_measured, double time_s) {
    if (!known_) {
        value_ = measured_scale;
        variance_ = relative_u_measured * relative_u_measured;
        known_ = true;
    } else {
        const double prior = relative_u(time_s) * relative_u(time_s);
        const double gain = prior / (prior + relative_u_measured * relative_u_measured);
        value_ += gain * (measured_scale - value_);
        variance_ = (1 - gain) * prior;
    }
    time_s_ = time_s;
}

void PumpScale::rate_changed() {
    variance_ += rate_change_u * rate_change_u;
}

}  // namespace tipwright::bench
