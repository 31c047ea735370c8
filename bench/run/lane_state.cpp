#include "bench/run/lane_state.hpp"

namespace tipwright::bench {

namespace {

// A reader that found its instrument failed has nothing more to do, but must not end: its end would end
// the procedure, whose first duty now is to stop the pump.
Task<void> wait_for_the_end(LaneState& state) {
    for (;;) co_await state.changed.wait();
}

}  // namespace

Task<void> read_balance(Balance& balance, LaneState& state, RunLog& log) {
    for (;;) {
        auto reading = co_await balance.next();
        if (!reading) {
            if (!state.fault) state.fault = reading.fault();
            state.changed.notify();
            break;
        }
        log.weight(*reading);
        state.tracker.weight(reading->arrived_s, reading->mass_g);
        state.interlocks.weight(reading->arrived_s, reading->mass_g);
        if (reading->mass_g > state.mark_g + state.rise_g || reading->mass_g < state.mark_g - state.rise_g) {
            state.mark_g = reading->mass_g;
            state.mark_s = reading->arrived_s;
        }
        state.weight = std::move(*reading);
        if (log.failure() && !state.fault) state.fault = *log.failure();
        state.changed.notify();
    }
    co_await wait_for_the_end(state);
}

Task<void> read_counter(Clock& clock, TipCounter& counter, LaneState& state, RunLog& log) {
    for (;;) {
        auto edge = co_await counter.next();
        if (!edge) {
            if (!state.fault) state.fault = edge.fault();
            state.changed.notify();
            break;
        }
        log.edge(clock.now_s(), *edge);
        state.tracker.edge(*edge);
        state.changed.notify();
    }
    co_await wait_for_the_end(state);
}

Task<void> keep_pump_alive(Clock& clock, Pump& pump, LaneState& state) {
    const double limit_s = pump.own_timeout_s();
    while (limit_s > 0) {
        co_await clock.sleep_for(limit_s / 4);
        if (!state.keep_alive || state.fault) continue;
        auto fed = co_await pump.keep_alive();
        // Another command overtook it: that was a keep-alive too.
        if (fed || fed.fault().code == FaultCode::interrupted) continue;
        if (!state.fault) state.fault = fed.fault();
        state.changed.notify();
    }
    co_await wait_for_the_end(state);
}

}  // namespace tipwright::bench
