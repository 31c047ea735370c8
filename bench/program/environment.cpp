#include "bench/program/environment.hpp"

#include <cstdlib>

namespace tipwright::program {

std::string environment(const char* name) {
    const char* value = std::getenv(name);
    return value != nullptr ? value : "";
}

std::filesystem::path own_folder(const char* variable, const char* usual) {
    std::filesystem::path base = environment(variable);
    // The specification: a path that is not absolute is to be ignored.
    if (!base.is_absolute()) {
        const std::string home = environment("HOME");
        base = std::filesystem::path(home.empty() ? "/" : home) / usual;
    }
    return base / "tipwright";
}

}  // namespace tipwright::program
