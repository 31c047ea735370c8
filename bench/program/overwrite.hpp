// Nothing is written over unless that was asked for.
#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// Fault duplicate where something is at that place already.
inline Outcome check_free(const std::filesystem::path& place, bool force) {
    std::error_code ignored;
    if (force || !std::filesystem::exists(place, ignored)) return Done{};
    return Fault{FaultCode::duplicate, "there is something already", place.string(),
                 "give another name, or --force to write over it"};
}

// --force, and a refusal before the command begins where its output is there already: the file `out`, or one
// of these names in the folder `out`. `out` lives as long as the command; empty: nothing is written.
inline void add_force(CLI::App& command, const std::filesystem::path& out,
                      std::vector<std::string> names = {}) {
    const auto force = std::make_shared<bool>(false);
    command.add_flag("--force", *force, "Write over what is there");
    command.parse_complete_callback([force, &out, names = std::move(names)] {
        if (out.empty()) return;
        std::vector<std::filesystem::path> places;
        for (const std::string& name : names) places.push_back(out / name);
        if (names.empty()) places.push_back(out);
        for (const auto& place : places)
            if (const Outcome free = check_free(place, *force); !free)
                throw CLI::ValidationError(free.fault().line());
    });
}

}  // namespace tipwright::program
