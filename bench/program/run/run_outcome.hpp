// What a run left: its results from the journal, or why there are none.
#pragma once

#include <filesystem>
#include <string>

#include "bench/program/common_options.hpp"
#include "bench/program/run/lane_run.hpp"

namespace tipwright::program {

struct OutcomeOptions {
    std::filesystem::path folder;
    std::string paper = "A4";
    bool as_left = false;
};

ExitCode exit_code_of(const Fault& fault);

// Evaluates the journal in the folder, writes the files and prints them; of an incomplete run, says why.
ExitCode tell_outcome(const CommonOptions& common, const OutcomeOptions& options, const bench::RunEnd& end,
                      std::size_t steps);

}  // namespace tipwright::program
