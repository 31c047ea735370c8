// The environment, as commands ask it. Secrets are never taken from there.
#pragma once

#include <string>

namespace tipwright::program {

// Empty: not set, or set to nothing.
std::string environment(const char* name);

}  // namespace tipwright::program
