// LaneState: what is known of a lane right now, fed by the readers of its instruments, and what they
// found wrong. The procedure waits on `changed`.
#pragma once

#include <optional>

#include "bench/clock/signal.hpp"
#include "bench/run/run.hpp"
#include "bench/run/step_tracker.hpp"

namespace tipwright::bench {

struct LaneState {
    LaneState(boost::asio::io_context& context, const calib::Gauge& gauge,
              const calib::BenchMetrology& metrology)
        : changed(context), tracker(gauge, metrology) {}

    Signal changed;
    StepTracker tracker;
    std::optional<WeightReading> weight;
    std::optional<Fault> fault;

    // Water watch: the balance must rise again before this much time has passed.
    double mark_g = 0;  // reading at the last seen rise
    double mark_s = 0;
    double rise_g = 1;      // what counts as a rise
    double patience_s = 0;  // 0: not watching
};

// Run until cancelled. What goes wrong is put into state.fault.
Task<void> read_balance(Balance& balance, LaneState& state, RunLog& log);
Task<void> read_counter(Clock& clock, TipCounter& counter, LaneState& state, RunLog& log);

}  // namespace tipwright::bench
