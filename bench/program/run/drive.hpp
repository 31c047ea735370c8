// Drive: carries the runs of one or several lanes to their ends on one clock. SIGINT, SIGTERM and SIGHUP ask
// every run to stop, its pump first; a second one leaves without waiting for the balances to go quiet.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "bench/program/run/lane_run.hpp"
#include "bench/program/run/progress_view.hpp"

namespace tipwright::program {

struct DrivenLane {
    LaneRun& run;
    bench::RunCallbacks callbacks;
    std::function<void()> ended;  // its journal is closed; may be empty
};

struct DriveCallbacks {
    std::function<void()> stopping;  // at the first signal
};

// The clock runs until the last lane has ended. The watchdog, if there is one, is fed; when it had to stop
// the pumps, every run is stopped.
void drive(boost::asio::io_context& context, bench::Clock& clock, std::vector<DrivenLane> lanes,
           const DriveCallbacks& callbacks, bench::Watchdog* watchdog = nullptr);

// One lane, shown on the view.
void drive_one(boost::asio::io_context& context, bench::Clock& clock, LaneRun& run, ProgressView& view,
               bench::Watchdog* watchdog = nullptr);

inline constexpr const char* safety_words =
    "Mains power above and away from water; lift full vessels with care; keep the floor dry.";
inline constexpr const char* stopping_words =
    "Stopping the pump, then watching the balance; press again to leave at once.";

}  // namespace tipwright::program
