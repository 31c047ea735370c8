#include "bench/run/run.hpp"

#include <exception>
#include <new>

#include <boost/asio/experimental/awaitable_operators.hpp>
#include <utility>

#include "bench/run/crash_stop.hpp"
#include "bench/run/procedure.hpp"

namespace tipwright::bench {

namespace {

// The procedure keeps what it catches to itself; what fails even there must end the run all the same, with
// the pump stopped by whoever still can.
Task<void> perform_to_the_end(Procedure& procedure, Supervision& supervision, RunEnd& end) {
    try {
        co_await procedure.perform(end);
        co_return;
    } catch (const std::bad_alloc&) {
        end_without_memory();
        end.fault = without_memory();
    } catch (const std::exception& error) {
        end.fault = Fault{FaultCode::inconsistent, error.what(), "run", "report this as a defect"};
    }
    end.complete = false;
    end.stop_confirmed = false;
    supervision.stop_pumps();
    procedure.guard().warn("the run broke down");
}

// One that failed alone would be missed only once its readings are.
Task<void> with_memory(Task<void> work) {
    try {
        co_await std::move(work);
    } catch (const std::bad_alloc&) {
        end_without_memory();
        throw;
    }
}

}  // namespace

Task<RunEnd> perform_run(boost::asio::io_context& context, Clock& clock, Supervision& supervision, Lane lane,
                         const calib::Gauge& gauge, const BenchDescription& bench, const calib::Plan& plan,
                         RunLog& log, RunControl& control, RunCallbacks callbacks, BrokeOff where) {
    using namespace boost::asio::experimental::awaitable_operators;
    RunEnd end;
    Procedure procedure(context, clock, supervision, lane, gauge, bench, plan, log, control,
                        std::move(callbacks), where);
    LaneState& state = procedure.lane_state();
    WaterGuard& guard = procedure.guard();
    // The readers never end by themselves: the procedure's end cancels them and waits for them.
    co_await (perform_to_the_end(procedure, supervision, end) ||
              with_memory(read_balance(lane.balance, state, guard, log)) ||
              with_memory(read_counter(clock, lane.counter, state, guard, log)) ||
              with_memory(guard.keep_pump_alive()));
    co_return end;
}

}  // namespace tipwright::bench
