// Moments of time as calib/base/dates.hpp writes them in UTC, and the moment it is.
#pragma once

#include <optional>
#include <string>

namespace tipwright::program {

std::string utc_now();
// Seconds later than a moment. Nothing when the text is no moment.
std::optional<std::string> later(const std::string& moment, double seconds);
// From one moment to another. Nothing when a text is no moment.
std::optional<double> seconds_between(const std::string& from, const std::string& to);

}  // namespace tipwright::program
