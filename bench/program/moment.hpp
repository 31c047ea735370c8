// Moments of time as ISO 8601 in UTC, "2026-11-02T08:00:00Z".
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
