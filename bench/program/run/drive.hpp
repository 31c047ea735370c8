// Drive: carries the runs of one or several lanes to their ends on one clock, under the supervision's signals
// and watchdog. A signal asks every run to stop, its pump first; a second one leaves without waiting for the
// balances to go quiet.
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

// The clock runs until the last lane has ended.
void drive(boost::asio::io_context& context, bench::Clock& clock, std::vector<DrivenLane> lanes,
           bench::Supervision& supervision);

// One lane, shown on the view.
void drive_one(boost::asio::io_context& context, bench::Clock& clock, LaneRun& run, ProgressView& view,
               bench::Supervision& supervision);

// After the run ended: where Ctrl-Z asked for it, says so on the display and suspends the process.
void suspend_if_asked(bench::Supervision& supervision, Display& display);

// As every command supervises what it moves water with: signals, and on a bench outside this process the
// watchdog. hang_s: 0 where all water is inside this process.
bench::SupervisionOptions supervision_of(double hang_s, Display& display, std::function<void()> stopping);

inline constexpr const char* safety_words =
    "Mains power above and away from water; lift full vessels with care; keep the floor dry.";
inline constexpr const char* stopping_words =
    "Stopping the pump, then watching the balance; press again to leave at once.";

}  // namespace tipwright::program
