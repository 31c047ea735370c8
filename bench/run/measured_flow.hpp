// Measured flow: what the pump really delivers, by the tips and the balance.
#pragma once

#include <optional>

#include "bench/run/step_tracker.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::bench {

// Flow in mL/min between the first and the last tip after from_s on which a weighing may open and close, with
// the budget of a step. Nothing before there are two such tips, or when they say nothing.
std::optional<calib::Uncertain> measured_flow_mL_min(const StepTracker& tracker, const calib::Gauge& gauge,
                                                     const calib::BenchMetrology& metrology, double coverage,
                                                     double from_s, double now_s);

}  // namespace tipwright::bench
