// LaneState: what is known of a lane right now, fed by the readers of its instruments, and what they
// found wrong. The procedure waits on `changed`.
#pragma once

#include <optional>

#include "bench/clock/signal.hpp"
#include "bench/run/step_tracker.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::bench {

struct LaneState {
    LaneState(boost::asio::io_context& context, const calib::Gauge& gauge, const BenchDescription& bench)
        : changed(context), tracker(gauge, bench.metrology) {}

    Signal changed;
    StepTracker tracker;
    std::optional<WeightReading> weight;
};

// Run until cancelled. What goes wrong is told to the guard.
Task<void> read_balance(Balance& balance, LaneState& state, WaterGuard& guard, RunLog& log);
Task<void> read_counter(Clock& clock, TipCounter& counter, LaneState& state, WaterGuard& guard, RunLog& log);

}  // namespace tipwright::bench
