#include "bench/virtual_bench/vessel.hpp"

#include <algorithm>

namespace tipwright::bench {

Vessel::Vessel(double evaporation_mL_s, double drain_flow_mL_s, Random dice)
    : evaporation_mL_s_(evaporation_mL_s), drain_flow_mL_s_(drain_flow_mL_s), dice_(dice) {}

void Vessel::set_drain(bool open) {
    if (open && !open_) rest_mL_ = dice_.between(0.3, 1.2);
    open_ = open;
}

void Vessel::step(double dt_s, double in_mL) {
    water_mL_ += in_mL;
    if (water_mL_ <= 0) return;
    const double evaporated = std::min(evaporation_mL_s_ * dt_s, water_mL_);
    evaporated_mL_ += evaporated;
    water_mL_ -= evaporated;
    if (open_) {
        const double out = std::clamp(water_mL_ - rest_mL_, 0.0, drain_flow_mL_s_ * dt_s);
        drained_mL_ += out;
        water_mL_ -= out;
    }
    if (leak_mL_s_ > 0) {
        const double out = std::min(leak_mL_s_ * dt_s, water_mL_);
        leaked_mL_ += out;
        water_mL_ -= out;
    }
}

}  // namespace tipwright::bench
