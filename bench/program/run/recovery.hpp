// A run that did not come to its end: what recover does with it, and the question of whether to go on at
// once.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/common_options.hpp"
#include "bench/program/run/enter_result.hpp"
#include "bench/run/run.hpp"

namespace tipwright::program {

struct RecoverOptions {
    std::filesystem::path folder;
    bool resume = false;
    bool close = false;
    std::string bench;            // the same bench with other links; empty: as in the journal
    std::optional<double> speed;  // as of calibrate
    std::string paper = "A4";
    bool as_left = false;
    std::string side_up;  // A, B; empty: as the tips before tell
    EnterOptions entering;
};

// How a run ended, told, and its result entered where that is wanted. Where a link was lost, somebody at a
// terminal is asked whether the bench's own instrument is on it again: only a person can see that where the
// instrument cannot say who it is. Said yes, the run goes on as by `recover --resume`. The run's journal and
// links must be closed.
ExitCode tell_end(const CommonOptions& common, const RecoverOptions& options, const bench::RunEnd& end,
                  std::size_t steps, const std::string& serial);

}  // namespace tipwright::program
