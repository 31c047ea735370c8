// What every subcommand is given, and how it says what went wrong.
#pragma once

#include <filesystem>

#include "bench/program/exit_codes.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// Choices every subcommand shares.
struct CommonOptions {
    std::filesystem::path templates;  // folder of gauge kinds, plans, benches, profiles, layouts
    bool json = false;                // for machines: one JSON document on standard output
};

// One line on standard error, "tipwright: ...", or a JSON object when asked for. Returns the code given.
ExitCode fail(const CommonOptions& common, const Fault& fault, ExitCode code = ExitCode::bad_input);

}  // namespace tipwright::program
