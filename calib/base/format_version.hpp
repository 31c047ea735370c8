// Versions of formats. A format's version is the release of the program that brought it, "1.3": the program
// of that release and every later one read it. So a file of a later version says by itself which program it
// needs. Faults: unsupported_version.
#pragma once

#include <compare>
#include <optional>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright {

struct FormatVersion {
    int major = 1;
    int minor = 0;
    auto operator<=>(const FormatVersion&) const = default;  // NOLINT(modernize-use-nullptr)
    std::string text() const;
};

inline constexpr FormatVersion first_version{1, 0};

// "1.3", both numbers from 0 to 999 without leading zeros; nothing for any other text.
std::optional<FormatVersion> format_version(std::string_view text);

// The version that a file of a format says, held against the `newest` that this program reads. `what`:
// "record". Versions of before 1.0 and words that are none are refused too.
Result<FormatVersion> readable_version(std::string_view said, FormatVersion newest, const std::string& what,
                                       const std::string& where);

}  // namespace tipwright
