#include "bench/run/run.hpp"

#include <boost/asio/experimental/awaitable_operators.hpp>

#include "bench/run/procedure.hpp"

namespace tipwright::bench {

Task<RunEnd> perform_run(boost::asio::io_context& context, Clock& clock, Supervision& supervision, Lane lane,
                         const calib::Gauge& gauge, const BenchDescription& bench, const calib::Plan& plan,
                         RunLog& log, RunControl& control, RunCallbacks callbacks, int first_step) {
    using namespace boost::asio::experimental::awaitable_operators;
    RunEnd end;
    Procedure procedure(context, clock, supervision, lane, gauge, bench, plan, log, control,
                        std::move(callbacks), first_step);
    LaneState& state = procedure.lane_state();
    WaterGuard& guard = procedure.guard();
    // The readers never end by themselves: the procedure's end cancels them and waits for them.
    co_await (procedure.perform(end) || read_balance(lane.balance, state, guard, log) ||
              read_counter(clock, lane.counter, state, guard, log) || guard.keep_pump_alive());
    co_return end;
}

}  // namespace tipwright::bench
