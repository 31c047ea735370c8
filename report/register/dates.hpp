// Calendar of the register: arithmetic with the dates and UTC times of calib/base/dates.hpp, as text. Nothing
// here knows what day it is.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright::report {

bool is_utc_time(std::string_view text);
std::string date_of(std::string_view utc_time);

// Days since 1970-01-01 of a valid date.
std::int64_t day_number(std::string_view date);
std::string date_of_day(std::int64_t day);
// Seconds since 1970 of a valid UTC time; leap seconds are not counted.
std::int64_t second_number(std::string_view utc_time);
// Same day of the month, or the month's last: 2031-01-31 and one month is 2031-02-28.
std::string add_months(std::string_view date, int months);
// Mean Gregorian years (365.2425 d) from one date to another.
double years_between(std::string_view from, std::string_view to);

}  // namespace tipwright::report
