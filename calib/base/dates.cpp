#include "calib/base/dates.hpp"

#include <cstdio>

namespace tipwright {

namespace {

// Of digits alone; -1 where there is anything else.
int number(std::string_view digits) {
    int out = 0;
    for (const char c : digits) out = c >= '0' && c <= '9' && out >= 0 ? 10 * out + (c - '0') : -1;
    return out;
}

}  // namespace

std::optional<std::chrono::year_month_day> iso_date(std::string_view text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
    const int year = number(text.substr(0, 4));
    const int month = number(text.substr(5, 2));
    const int day = number(text.substr(8, 2));
    if (year < 1900 || year > 2999 || month < 1 || day < 1) return std::nullopt;
    const std::chrono::year_month_day out{std::chrono::year(year),
                                          std::chrono::month(static_cast<unsigned>(month)),
                                          std::chrono::day(static_cast<unsigned>(day))};
    if (!out.ok()) return std::nullopt;
    return out;
}

bool is_iso_date(std::string_view text) {
    return iso_date(text).has_value();
}

std::string iso_text(const std::chrono::year_month_day& date) {
    char out[32];
    std::snprintf(out, sizeof out, "%04d-%02u-%02u", static_cast<int>(date.year()),
                  static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
    return out;
}

std::optional<std::chrono::sys_seconds> utc_moment(std::string_view text) {
    if (text.size() != 20 || text[10] != 'T' || text[13] != ':' || text[16] != ':' || text[19] != 'Z')
        return std::nullopt;
    const auto date = iso_date(text.substr(0, 10));
    const int hour = number(text.substr(11, 2));
    const int minute = number(text.substr(14, 2));
    const int second = number(text.substr(17, 2));
    if (!date || hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 59)
        return std::nullopt;
    return std::chrono::sys_days(*date) + std::chrono::hours(hour) + std::chrono::minutes(minute) +
           std::chrono::seconds(second);
}

std::string utc_text(std::chrono::sys_seconds moment) {
    const auto day = std::chrono::floor<std::chrono::days>(moment);
    const std::chrono::hh_mm_ss time(moment - day);
    char out[32];
    std::snprintf(out, sizeof out, "T%02d:%02d:%02dZ", static_cast<int>(time.hours().count()),
                  static_cast<int>(time.minutes().count()), static_cast<int>(time.seconds().count()));
    return iso_text(day) + out;
}

}  // namespace tipwright
