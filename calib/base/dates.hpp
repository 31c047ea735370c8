// ISO 8601 dates, "2031-05-04": Gregorian days that exist, years 1900 to 2999.
#pragma once

#include <chrono>
#include <optional>
#include <string_view>

namespace tipwright {

// Nothing where the text is no such date.
std::optional<std::chrono::year_month_day> iso_date(std::string_view text);
bool is_iso_date(std::string_view text);

// The mean year of the Gregorian calendar: 146097 days in 400 years.
inline constexpr double days_in_a_year = 365.2425;

}  // namespace tipwright
