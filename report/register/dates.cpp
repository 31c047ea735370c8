#include "report/register/dates.hpp"

#include <algorithm>
#include <chrono>

#include "calib/base/dates.hpp"

namespace tipwright::report {

bool is_utc_time(std::string_view time) {
    return utc_moment(time).has_value();
}

std::string date_of(std::string_view utc_time) {
    return std::string(utc_time.substr(0, 10));
}

std::int64_t day_number(std::string_view date) {
    return std::chrono::sys_days(iso_date(date).value()).time_since_epoch().count();
}

std::string date_of_day(std::int64_t day) {
    return iso_text(std::chrono::sys_days(std::chrono::days(day)));
}

std::int64_t second_number(std::string_view utc_time) {
    return utc_moment(utc_time).value().time_since_epoch().count();
}

std::string add_months(std::string_view date, int months) {
    const std::chrono::year_month_day from = iso_date(date).value();
    const std::chrono::year_month to =
        std::chrono::year_month(from.year(), from.month()) + std::chrono::months(months);
    const std::chrono::year_month_day_last last = to / std::chrono::last;
    return iso_text(to / std::min(from.day(), last.day()));
}

double years_between(std::string_view from, std::string_view to) {
    return static_cast<double>(day_number(to) - day_number(from)) / days_in_a_year;
}

}  // namespace tipwright::report
