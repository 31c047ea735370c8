#include "bench/program/environment.hpp"

#include <cstdlib>

namespace tipwright::program {

std::string environment(const char* name) {
    const char* value = std::getenv(name);
    return value != nullptr ? value : "";
}

}  // namespace tipwright::program
