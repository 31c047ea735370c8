// `verify` with the register that a laboratory hands over: it is checked by the public keys alone, and the
// certificates given must be those that it holds.
#pragma once

#include <string>

#include "bench/program/commands.hpp"

namespace tipwright::program {

// `place`: folder or connection string; empty: no register.
ExitCode verify_with_register(const CommonOptions& common, const VerifyOptions& options,
                              const std::string& place);

}  // namespace tipwright::program
