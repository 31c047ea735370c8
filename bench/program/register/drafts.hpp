// What a finished run leaves in the register by itself.
#pragma once

#include <filesystem>
#include <string>

#include "bench/program/common_options.hpp"
#include "bench/program/register/session.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// Enters the record of a run; of an as-left run drafts the newest round of its gauge too. Gives what was
// done, in a sentence. Faults: those of the register.
Result<std::string> enter_run(const CommonOptions& common, const Session& session, const std::string& serial,
                              const std::filesystem::path& work, const std::filesystem::path& run,
                              bool as_left, const std::string& bench_code);

}  // namespace tipwright::program
