// recover: a run that did not come to its end. Stops its pump, says what was kept, and goes on from the first
// step that was not, or closes it as incomplete; which of both, the operator says.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/commands.hpp"

namespace tipwright::program {

struct RecoverOptions {
    std::filesystem::path folder;
    bool resume = false;
    bool close = false;
    std::string bench;            // the same bench with other links; empty: as in the journal
    std::optional<double> speed;  // as of calibrate
    std::string paper = "A4";
    bool as_left = false;
};

ExitCode recover(const CommonOptions& common, const RecoverOptions& options);

}  // namespace tipwright::program
