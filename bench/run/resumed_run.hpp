// Resumed run: the one that goes on where an earlier one broke off.
#pragma once

#include "bench/run/run.hpp"

namespace tipwright::bench {

struct BrokeOff {
    int first_step = 1;      // the steps before it were measured before; past the last: nothing is left to do
    double collected_g = 0;  // water in the vessel
};

// As perform_run.
Task<RunEnd> perform_resumed_run(boost::asio::io_context& context, Clock& clock, Supervision& supervision,
                                 Lane lane, const calib::Gauge& gauge, const BenchDescription& bench,
                                 const calib::Plan& plan, RunLog& log, RunControl& control,
                                 RunCallbacks callbacks, BrokeOff where);

}  // namespace tipwright::bench
