#include "calib/rain/log_time.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>

#include "calib/base/ascii.hpp"
#include "calib/base/dates.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::calib {

namespace {

constexpr const char* how =
    "times are 2031-05-04 10:11:12.5, with AM or PM where they are, or seconds since 1970; counts of whole "
    "days "
    "may have a date alone";

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool digits(std::string_view text, std::size_t at, std::size_t count, int& out) {
    if (at + count > text.size()) return false;
    out = 0;
    for (std::size_t i = at; i < at + count; ++i) {
        if (!is_digit(text[i])) return false;
        out = 10 * out + (text[i] - '0');
    }
    return true;
}

// As many digits as stand there, at most `most`; 0: none.
std::size_t number(std::string_view text, std::size_t at, std::size_t most, int& out) {
    std::size_t count = 0;
    out = 0;
    while (count < most && at + count < text.size() && is_digit(text[at + count]))
        out = 10 * out + (text[at + count++] - '0');
    return at + count < text.size() && is_digit(text[at + count]) ? 0 : count;
}

bool day_of(int year, int month, int day, double& out) {
    const std::chrono::year_month_day date{std::chrono::year(year),
                                           std::chrono::month(static_cast<unsigned>(month)),
                                           std::chrono::day(static_cast<unsigned>(day))};
    if (!date.ok()) return false;
    out = day_s * static_cast<double>(std::chrono::sys_days(date).time_since_epoch().count());
    return true;
}

// "AM", "p.m." at the beginning; 0: neither, else how much it takes.
std::size_t half_of_day(std::string_view text, bool& after_noon) {
    const auto letter = [&](std::size_t at) -> char {
        return at < text.size() ? static_cast<char>(text[at] | 0x20) : '\0';
    };
    if (letter(0) != 'a' && letter(0) != 'p') return 0;
    after_noon = letter(0) == 'p';
    std::size_t length = 0;
    if (letter(1) == 'm')
        length = 2;
    else if (text.substr(1, 1) == "." && letter(2) == 'm')
        length = text.substr(3, 1) == "." ? 4 : 3;
    if (length == 0) return 0;
    const char next = letter(length);
    return next >= 'a' && next <= 'z' ? 0 : length;
}

}  // namespace

bool fixed_zone(std::string_view text, double& offset_s) {
    if (text == "Z" || text == "z" || text == "UTC" || text == "GMT") {
        offset_s = 0;
        return true;
    }
    if (text.size() < 3 || (text[0] != '+' && text[0] != '-')) return false;
    int hours = 0, minutes = 0;
    if (!digits(text, 1, 2, hours)) return false;
    std::size_t at = 3;
    if (at < text.size() && text[at] == ':') ++at;
    if (at == text.size() ? at == 4 : !digits(text, at, 2, minutes) || at + 2 != text.size()) return false;
    // Places on land lie between -12 and +14 h.
    if (hours > 14 || minutes > 59) return false;
    offset_s = (text[0] == '-' ? -1 : 1) * (3600.0 * hours + 60.0 * minutes);
    return true;
}

bool LogTimes::refused(std::string why) {
    why_ = std::move(why);
    return false;
}

bool LogTimes::looks_like_time(std::string_view text) {
    int value = 0;
    const std::size_t count = number(text, 0, 4, value);
    if (count == 0 || count + 1 >= text.size()) return false;
    const char sign = text[count];
    return (sign == ':' || sign == '-' || sign == '/' || sign == '.') && is_digit(text[count + 1]);
}

bool LogTimes::is_clock_alone(std::string_view text) {
    int value = 0;
    const std::size_t count = number(text, 0, 2, value);
    return count > 0 && count < text.size() && text[count] == ':';
}

void LogTimes::taken(double time_s) {
    step_s_ = time_s - last_s_;
    last_s_ = time_s;
}

bool LogTimes::date(std::string_view text) {
    if (!day_text_.empty() && text == day_text_) return true;
    int first = 0, second = 0, third = 0;
    const std::size_t one = number(text, 0, 4, first);
    if (one == 0 || one >= text.size()) return refused(how);
    const char sign = text[one];
    if (sign != '-' && sign != '/' && sign != '.') return refused(how);
    const std::size_t two = number(text, one + 1, 2, second);
    const std::size_t at = one + 1 + two;
    if (two == 0 || at >= text.size() || text[at] != sign) return refused(how);
    const std::size_t three = number(text, at + 1, 4, third);
    if (three == 0 || at + 1 + three != text.size()) return refused(how);
    double day = 0;
    if (one == 4 && three <= 2) {
        if (!day_of(first, second, third, day)) return refused("there is no such day");
    } else if (three == 4 && one <= 2) {
        if (sign != '.' && order_ == DateOrder::automatic)
            return refused("day or month may come first: say which, --dates dmy or --dates mdy");
        if (sign != '.' && order_ == DateOrder::month_first) std::swap(first, second);
        if (!day_of(third, second, first, day)) return refused("there is no such day");
    } else {
        return refused("a year has four digits: 2031-05-04");
    }
    day_text_.assign(text);
    day_s_ = day;
    return true;
}

bool LogTimes::clock(std::string_view text, double& seconds, std::string_view& rest) {
    int hour = 0, minute = 0, second = 0;
    const std::size_t hours = number(text, 0, 2, hour);
    if (hours == 0 || text.substr(hours, 1) != ":" || !digits(text, hours + 1, 2, minute) || minute > 59)
        return refused(how);
    std::size_t at = hours + 3;
    double fraction = 0;
    if (at < text.size() && text[at] == ':') {
        if (!digits(text, at + 1, 2, second) || second > 60) return refused(how);
        at += 3;
        double unit = 1;
        if (at < text.size() && (text[at] == '.' || text[at] == ',')) {
            for (++at; at < text.size() && is_digit(text[at]); ++at) {
                unit /= 10;
                fraction += unit * (text[at] - '0');
            }
        }
        resolution_s_ = std::min(resolution_s_, std::max(unit, 1e-6));
    }
    rest = text.substr(at);
    if (!rest.empty()) {
        rest = trimmed(rest, " ");
        bool after_noon = false;
        if (const std::size_t length = half_of_day(rest, after_noon); length > 0) {
            if (hour < 1 || hour > 12) return refused("with AM or PM the hour is 1 to 12");
            hour = hour % 12 + (after_noon ? 12 : 0);
            rest.remove_prefix(length);
            rest = trimmed(rest, " ");
        }
    }
    seconds = 3600 * hour + 60 * minute + second + fraction;
    // 24:00 is the midnight at the end of its day.
    if (seconds > day_s || hour > 24) return refused(how);
    return true;
}

bool LogTimes::in_zone(double local_s, std::string_view text, double& out) {
    // Clocks are never further than 15 h from UTC: one of these stretches holds it, or two, or none.
    auto at = std::upper_bound(changes_.begin(), changes_.end(), local_s - 16 * 3600,
                               [](double t, const ZoneChange& change) { return t < change.from_utc_s; });
    if (at != changes_.begin()) --at;
    double seen[2] = {0, 0};
    int count = 0;
    for (; at != changes_.end() && at->from_utc_s <= local_s + 16 * 3600 && count < 2; ++at) {
        const double utc_s = local_s - at->offset_s;
        const auto next = at + 1;
        if (utc_s >= at->from_utc_s && (next == changes_.end() || utc_s < next->from_utc_s))
            seen[count++] = utc_s;
    }
    if (count == 0)
        return refused(
            "the clocks of this zone skip it in spring: the logger keeps another time; give its "
            "distance to UTC, --zone +01:00");
    out = seen[0];
    if (count == 1) return true;
    // Passed twice. What is before the time before it is no time to choose; counts go on by their step.
    if (last_s_ > seen[0] && last_s_ <= seen[1]) {
        out = seen[1];
        return true;
    }
    for (const double one : seen)
        if (std::abs(one - last_s_ - step_s_) < 1) {
            out = one;
            return true;
        }
    return refused("the clocks of this zone pass it twice in autumn: write its distance to UTC behind it, " +
                   visible(text.substr(0, 40)) + "+01:00");
}

bool LogTimes::read(std::string_view text, double& out) {
    whole_day_ = false;
    if (text.find(':') == std::string_view::npos) {
        double seconds = 0;
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), seconds);
        if (error == std::errc() && end == text.data() + text.size()) {  // since 1970
            const auto point = text.find('.');
            const std::size_t decimals = point == std::string_view::npos ? 0 : text.size() - point - 1;
            resolution_s_ = std::min(
                resolution_s_, std::pow(10.0, -static_cast<double>(std::min<std::size_t>(decimals, 6))));
            out = seconds;
            return (seconds > earliest_log_s && seconds < latest_log_s) || refused(how);
        }
        if (!date(text)) return false;
        whole_day_ = true;
        out = day_s_ - utc_offset_s_;
        return (out > earliest_log_s && out < latest_log_s) ||
               refused("its year is not between 1950 and 2199");
    }
    std::size_t parted = 0;
    while (parted < text.size() && text[parted] != 'T' && text[parted] != ' ') ++parted;
    if (parted == text.size()) return refused(how);
    if (!date(text.substr(0, parted))) return false;
    std::string_view after = text.substr(parted + 1);
    while (!after.empty() && after.front() == ' ') after.remove_prefix(1);
    double seconds = 0;
    std::string_view rest;
    if (!clock(after, seconds, rest)) return false;
    const double local_s = day_s_ + seconds;
    double offset_s = utc_offset_s_;
    if (rest.empty() && !changes_.empty()) {
        if (!in_zone(local_s, text, out)) return false;
    } else {
        if (!rest.empty() && !fixed_zone(rest, offset_s))
            return refused(in_quotes(std::string(rest)) +
                           " may be several zones: write the distance to UTC, as +01:00, or leave it out and "
                           "give --zone");
        out = local_s - offset_s;
    }
    return (out > earliest_log_s && out < latest_log_s) || refused("its year is not between 1950 and 2199");
}

}  // namespace tipwright::calib
