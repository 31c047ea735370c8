// lanes: up to 16 gauges side by side, each on a bench of its own, in one program. A fault of one lane ends
// that lane alone; Ctrl-C stops every pump.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/commands.hpp"

namespace tipwright::program {

struct LanesOptions {
    std::string lanes;
    std::filesystem::path out;    // a folder for each lane in it
    std::optional<double> speed;  // as of calibrate
    std::string started_at;
    std::string paper = "A4";
    std::string despite;  // why overdue calibrations and failed checks are accepted
};

ExitCode run_lanes(const CommonOptions& common, const LanesOptions& options);

}  // namespace tipwright::program
