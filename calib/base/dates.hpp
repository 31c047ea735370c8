// ISO 8601 dates, "2031-05-04", and moments in UTC, "2031-05-04T10:11:12Z": Gregorian days that exist, years
// 1900 to 2999. Leap seconds are not counted, and the 60th second of a minute is none.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright {

// Nothing where the text is no such date.
std::optional<std::chrono::year_month_day> iso_date(std::string_view text);
bool is_iso_date(std::string_view text);
std::string iso_text(const std::chrono::year_month_day& date);

// Nothing where the text is no such moment.
std::optional<std::chrono::sys_seconds> utc_moment(std::string_view text);
std::string utc_text(std::chrono::sys_seconds moment);

// The mean year of the Gregorian calendar: 146097 days in 400 years.
inline constexpr double days_in_a_year = 365.2425;

inline constexpr double day_s = 86400;

}  // namespace tipwright
