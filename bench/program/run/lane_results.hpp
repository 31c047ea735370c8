// Lane results: what comes of the journal of one lane while water still runs on the others.
#pragma once

#include <future>
#include <optional>
#include <string>

#include "bench/program/results/results.hpp"
#include "bench/program/run/run_outcome.hpp"

namespace tipwright::program {

struct LaneEnd {
    std::optional<Fault> fault;  // why there is no certificate
    std::string verdict;
    std::vector<ResultFile> files;
    std::string entered;  // into the register; empty: not asked for
};

// Evaluates the journal in the folder and writes the files on a thread of its own; where the machine has none
// left, on that of whoever asks for the result. `common` outlives it. What the memory does not suffice for is
// the lane's fault.
std::future<LaneEnd> compute_beside(const CommonOptions& common, OutcomeOptions options);

}  // namespace tipwright::program
