// Nothing is written over unless that was asked for.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// Fault duplicate where something is at that place already.
inline Outcome check_free(const std::filesystem::path& place, bool force) {
    std::error_code ignored;
    if (force || !std::filesystem::exists(place, ignored)) return Done{};
    return Fault{FaultCode::duplicate, "there is something already", place.string(),
                 "give another name, or --force to write over it"};
}

}  // namespace tipwright::program
