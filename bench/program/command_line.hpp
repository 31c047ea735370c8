// The command line: subcommands, options, help and exit codes.
#pragma once

#include <iosfwd>

#include "bench/program/exit_codes.hpp"

namespace tipwright::program {

ExitCode run_program(int argc, const char* const* argv);

}  // namespace tipwright::program
