#include "report/register/dates.hpp"

#include <algorithm>
#include <chrono>
#include <cstdio>

#include "calib/base/dates.hpp"

namespace tipwright::report {
namespace {

int number(std::string_view text, std::size_t at, std::size_t digits) {
    int out = 0;
    for (std::size_t i = at; i < at + digits; ++i) out = out * 10 + (text[i] - '0');
    return out;
}

std::string text(const std::chrono::year_month_day& date) {
    char out[16];
    std::snprintf(out, sizeof out, "%04d-%02u-%02u", static_cast<int>(date.year()),
                  static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
    return out;
}

}  // namespace

bool is_utc_time(std::string_view time) {
    if (time.size() != 20 || time[10] != 'T' || time[19] != 'Z' || !is_iso_date(time.substr(0, 10)))
        return false;
    for (const std::size_t at : {11, 12, 14, 15, 17, 18})
        if (time[at] < '0' || time[at] > '9') return false;
    return time[13] == ':' && time[16] == ':' && number(time, 11, 2) < 24 && number(time, 14, 2) < 60 &&
           number(time, 17, 2) < 60;
}

std::string date_of(std::string_view utc_time) {
    return std::string(utc_time.substr(0, 10));
}

std::int64_t day_number(std::string_view date) {
    return std::chrono::sys_days(iso_date(date).value()).time_since_epoch().count();
}

std::string date_of_day(std::int64_t day) {
    return text(std::chrono::year_month_day(std::chrono::sys_days(std::chrono::days(day))));
}

std::int64_t second_number(std::string_view utc_time) {
    return day_number(utc_time.substr(0, 10)) * 86400 + number(utc_time, 11, 2) * 3600 +
           number(utc_time, 14, 2) * 60 + number(utc_time, 17, 2);
}

std::string add_months(std::string_view date, int months) {
    const std::chrono::year_month_day from = iso_date(date).value();
    const std::chrono::year_month to =
        std::chrono::year_month(from.year(), from.month()) + std::chrono::months(months);
    const std::chrono::year_month_day_last last = to / std::chrono::last;
    return text(to / std::min(from.day(), last.day()));
}

double years_between(std::string_view from, std::string_view to) {
    return static_cast<double>(day_number(to) - day_number(from)) / days_in_a_year;
}

}  // namespace tipwright::report
