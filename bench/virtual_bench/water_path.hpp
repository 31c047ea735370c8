// WaterPath: the ways between the parts. Inlet: dry surfaces that keep the first water, then line and
// funnel as one store that empties at S / lag (or at a blockage's trickle). Drain: a delay, then a store
// that empties at S / lag, with a clinging drop that differs from tip to tip. mL and s; conserves water.
#pragma once

#include <vector>

#include "bench/virtual_bench/gauge_mechanism.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"

namespace tipwright::bench {

class InletPath {
public:
    // step_s: the fixed step it will be advanced by.
    InletPath(const GaugeTruth& truth, double step_s);

    // From now on no more than this gets through.
    void block(double largest_outflow_mL_s) { largest_outflow_mL_s_ = largest_outflow_mL_s; }
    // Water in, water out over one step.
    double step(double in_mL);

    double kept_by_surfaces_mL() const { return kept_mL_; }
    double standing_mL() const { return store_mL_; }
    double spilled_mL() const { return spilled_mL_; }

private:
    double wetting_mL_;
    double lag_s_;
    double step_s_;
    double stays_;  // exp(-step / lag)
    double largest_outflow_mL_s_;
    double kept_mL_ = 0;
    double store_mL_ = 0;
    double spilled_mL_ = 0;  // over the rim of a blocked funnel
};

class DrainPath {
public:
    DrainPath(const GaugeTruth& truth, double clinging_u_mL, double step_s, Random dice);

    void add(const Discharge& discharge) { waiting_.push_back(discharge); }
    // Advances from time_s; splash joins without delay. Returns what reached the vessel in the step.
    double step(double time_s, double splashed_mL);

    double holds_mL() const;

private:
    double delay_s_;
    double lag_s_;
    double step_s_;
    double stays_;
    double clinging_u_mL_;
    Random dice_;
    std::vector<Discharge> waiting_;  // in order of time, few
    double clinging_mL_ = 0;
    double store_mL_ = 0;
};

}  // namespace tipwright::bench
