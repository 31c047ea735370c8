// Stops runs: by SIGINT to the programs that carry them, each once for however many of its runs and taps.
#pragma once

#include <sys/types.h>

#include <chrono>
#include <map>
#include <string>
#include <vector>

#include "bench/page/live/work_folder.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::page {

class RunStops {
public:
    explicit RunStops(const WorkFolder& work) : work_(work) {}
    // Faults: those of bench::interrupt_holder.
    Outcome stop(const std::vector<std::string>& ids);

private:
    const WorkFolder& work_;
    std::map<pid_t, std::chrono::steady_clock::time_point> stopped_;
};

}  // namespace tipwright::page
