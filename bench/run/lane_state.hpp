// LaneState: what is known of a lane right now, fed by the readers of its instruments, and what they
// found wrong. The procedure waits on `changed`.
#pragma once

#include <optional>

#include "bench/clock/signal.hpp"
#include "bench/run/interlocks.hpp"
#include "bench/run/run.hpp"
#include "bench/run/step_tracker.hpp"

namespace tipwright::bench {

struct LaneState {
    LaneState(boost::asio::io_context& context, const calib::Gauge& gauge, const BenchDescription& bench)
        : changed(context), tracker(gauge, bench.metrology), interlocks(bench, gauge) {}

    Signal changed;
    StepTracker tracker;
    Interlocks interlocks;
    std::optional<WeightReading> weight;
    std::optional<Fault> fault;

    // Water watch: the balance must rise again before this much time has passed.
    double mark_g = 0;  // reading at the last seen rise
    double mark_s = 0;
    double rise_g = 1;      // what counts as a rise
    double patience_s = 0;  // 0: not watching

    bool keep_alive = false;  // the pump's own time limit is armed and must be fed
};

// Run until cancelled. What goes wrong is put into state.fault.
Task<void> read_balance(Balance& balance, LaneState& state, RunLog& log);
Task<void> read_counter(Clock& clock, TipCounter& counter, LaneState& state, RunLog& log);
// Tells a pump that stops by itself that the program lives, as long as nothing is wrong.
Task<void> keep_pump_alive(Clock& clock, Pump& pump, LaneState& state);

}  // namespace tipwright::bench
