// Vessel: the water on the balance pan. Evaporates at a steady rate while it holds any; its drain valve
// empties it to what clings. mL and s.
#pragma once

#include "bench/virtual_bench/random.hpp"

namespace tipwright::bench {

class Vessel {
public:
    Vessel(double evaporation_mL_s, double drain_flow_mL_s, Random dice);

    void set_drain(bool open);
    void set_evaporation(double mL_s) { evaporation_mL_s_ = mL_s; }
    void leak(double flow_mL_s) { leak_mL_s_ = flow_mL_s; }
    void step(double dt_s, double in_mL);

    double water_mL() const { return water_mL_; }
    double evaporated_mL() const { return evaporated_mL_; }
    double drained_mL() const { return drained_mL_; }
    double leaked_mL() const { return leaked_mL_; }
    bool draining() const { return open_; }

private:
    double evaporation_mL_s_;
    double drain_flow_mL_s_;
    double leak_mL_s_ = 0;
    Random dice_;
    bool open_ = false;
    double rest_mL_ = 0;  // what clings when the valve has run dry
    double water_mL_ = 0;
    double evaporated_mL_ = 0;
    double drained_mL_ = 0;
    double leaked_mL_ = 0;
};

}  // namespace tipwright::bench
