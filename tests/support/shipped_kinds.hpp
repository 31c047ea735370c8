// The gauge kinds that are in templates/gauge_kinds, by name: what is to hold for every kind walks them, so
// that a new one is tried without a line in a test.
#pragma once

#include <filesystem>
#include <set>
#include <string>

#include "tests/support/paths.hpp"

namespace tipwright::test {

inline std::set<std::string> shipped_kinds() {
    std::set<std::string> kinds;
    for (const auto& file : std::filesystem::directory_iterator(source_dir() + "/templates/gauge_kinds"))
        kinds.insert(file.path().stem().string());
    return kinds;
}

}  // namespace tipwright::test
