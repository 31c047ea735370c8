// Nothing is written over unless that was asked for.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "bench/program/subcommand.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// The command line asks for what would write over something: told before the command begins.
class AlreadyThere : public std::runtime_error {
public:
    explicit AlreadyThere(const Fault& fault) : std::runtime_error(fault.line()), fault_(fault) {}
    const Fault& fault() const { return fault_; }

private:
    Fault fault_;
};

// --force, and a refusal before the command begins where one of these places is taken already (AlreadyThere,
// Fault duplicate). Asked once the command line is read; what it refers to lives as long as the command.
inline CommandOption add_force(Subcommand command,
                               std::function<std::vector<std::filesystem::path>()> places) {
    const auto force = std::make_shared<bool>(false);
    command.on_read([force, places = std::move(places)] {
        if (*force) return;
        std::error_code ignored;
        for (const std::filesystem::path& place : places())
            if (!place.empty() && std::filesystem::exists(place, ignored))
                throw AlreadyThere({FaultCode::duplicate, "there is something already", place.string(),
                                    "give another name, or --force to write over it"});
    });
    return command.add_flag("--force", *force, "Overwrite existing files");
}

// The places: the file `out`, or these names in the folder `out`; empty: nothing is written.
inline CommandOption add_force(Subcommand command, const std::filesystem::path& out,
                               std::vector<std::string> names = {}) {
    return add_force(command, [&out, names = std::move(names)] {
        std::vector<std::filesystem::path> places;
        if (!out.empty())
            for (const std::string& name : names) places.push_back(out / name);
        if (names.empty()) places.push_back(out);
        return places;
    });
}

}  // namespace tipwright::program
