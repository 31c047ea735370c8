// Mechanism: what happens to water inside the gauge, from the tube below the funnel to the outlet of the
// compartments. Straight inlet or siphon chamber; a bucket of two compartments or a single spoon.
// Volumes in mL, flows in mL/s, times in s of bench time. Exact for a constant inflow over a step of any
// length: every event inside the step is found in closed form.
//
//   a movement starts when a compartment holds its threshold V0 (1 +- a) (1 + scatter);
//   it lasts tau + growth * Q with Q the inflow at its start, and inflow still enters meanwhile;
//   so in steady flow a tip discharges V0 + tau Q + growth Q^2   (Calder & Kidd 1978; Humphrey et al. 1997).
//   siphon: the chamber fills to the siphon volume (1 + scatter), then empties at the siphon flow until dry.
//   splash: a part of the inflow, growing with it, misses the compartment and leaves with the outflow.
#pragma once

#include <cstdint>
#include <vector>

#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"

namespace tipwright::bench {

struct Movement {  // a bucket began to tip, or a spoon to dip
    double started_s = 0;
    double duration_s = 0;
    int compartment = 0;  // the one that goes down: 0 is A, 1 is B
};

struct Discharge {
    double time_s = 0;
    double volume_mL = 0;
    int compartment = 0;
};

class Mechanism {
public:
    Mechanism(const calib::Gauge& gauge, const GaugeTruth& truth, Random dice);

    // Advances from time_s by dt_s with that inflow. Appends to started and discharged; returns the water
    // that splashed past the compartments.
    double advance(double time_s, double dt_s, double inflow_mL_s, std::vector<Movement>& started,
                   std::vector<Discharge>& discharged);

    // Faults: the bucket no longer tips; compartment A tips at a larger volume.
    void stick() { stuck_ = true; }
    void shift_a(double relative) { a_shift_ = relative; }

    // Water in chamber and compartments.
    double holds_mL() const { return chamber_mL_ + held_mL_; }
    // Mean resting volume of a compartment over both sides: V0.
    double resting_volume_mL() const { return resting_mL_; }
    std::uint64_t tips() const { return tips_; }

private:
    double feed_mL_s(double inflow_mL_s) const;
    void draw_threshold();
    void draw_slug();

    double resting_mL_;
    double a_excess_;
    double a_shift_ = 0;
    double scatter_;
    double movement_s_;
    double movement_growth_s2_mL_;
    double siphon_mL_;  // 0: straight
    double siphon_flow_mL_s_;
    double siphon_scatter_;
    double splash_s_mL_;  // share of the flow that splashes, per mL/s
    int compartments_;
    Random dice_;

    double chamber_mL_ = 0;
    double slug_mL_ = 0;  // chamber content at which the siphon starts this time
    bool flushing_ = false;
    int side_ = 0;
    double held_mL_ = 0;
    double threshold_mL_ = 0;
    bool moving_ = false;
    double moved_at_s_ = 0;
    bool stuck_ = false;
    std::uint64_t tips_ = 0;
};

}  // namespace tipwright::bench
