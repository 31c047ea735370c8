#include "bench/run/lane_state.hpp"

namespace tipwright::bench {

namespace {

// A reader that found its instrument failed has nothing more to do, but must not end: its end would end
// the procedure, whose first duty now is to stop the pump.
Task<void> wait_for_the_end(LaneState& state) {
    for (;;) co_await state.changed.wait();
}

}  // namespace

Task<void> read_balance(Balance& balance, LaneState& state, WaterGuard& guard, RunLog& log) {
    for (;;) {
        auto reading = co_await balance.next();
        if (!reading) {
            // Overtaken by another question to the balance: none of its faults.
            if (reading.fault().code == FaultCode::interrupted) continue;
            guard.failed(reading.fault());
            break;
        }
        log.weight(*reading);
        state.tracker.weight(reading->arrived_s, reading->mass_g);
        state.weight = *reading;
        guard.weight(*reading);
    }
    co_await wait_for_the_end(state);
}

Task<void> read_counter(Clock& clock, TipCounter& counter, LaneState& state, WaterGuard& guard, RunLog& log) {
    for (;;) {
        auto edge = co_await counter.next();
        if (!edge) {
            guard.failed(edge.fault());
            break;
        }
        log.edge(clock.now_s(), *edge);
        state.tracker.edge(*edge);
        state.changed.notify();
    }
    co_await wait_for_the_end(state);
}

}  // namespace tipwright::bench
