#include "calib/rain/tips_log.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>

namespace tipwright::calib {

namespace {

constexpr std::size_t longest_line = 4000;
// Earliest and latest year: times outside are no rain anyone calibrates for.
constexpr double earliest_s = -631152000.0;  // 1950
constexpr double latest_s = 7258118400.0;    // 2200

std::string_view trimmed(std::string_view text) {
    const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
    while (!text.empty() && blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && blank(text.back())) text.remove_suffix(1);
    if (text.size() >= 2 && text.front() == '"' && text.back() == '"') text = text.substr(1, text.size() - 2);
    return text;
}

std::string lower(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

bool digits(std::string_view text, std::size_t at, std::size_t count, int& out) {
    if (at + count > text.size()) return false;
    out = 0;
    for (std::size_t i = at; i < at + count; ++i) {
        if (text[i] < '0' || text[i] > '9') return false;
        out = 10 * out + (text[i] - '0');
    }
    return true;
}

bool day_of(int year, int month, int day, double& out) {
    const std::chrono::year_month_day date{std::chrono::year(year),
                                           std::chrono::month(static_cast<unsigned>(month)),
                                           std::chrono::day(static_cast<unsigned>(day))};
    if (!date.ok()) return false;
    out = 86400.0 * static_cast<double>(std::chrono::sys_days(date).time_since_epoch().count());
    return true;
}

// "+01:00", "-0330", "Z"
bool zone_of(std::string_view text, double& out) {
    if (text == "Z" || text == "z") {
        out = 0;
        return true;
    }
    if (text.size() < 3 || (text[0] != '+' && text[0] != '-')) return false;
    int hours = 0, minutes = 0;
    if (!digits(text, 1, 2, hours)) return false;
    std::size_t at = 3;
    if (at < text.size() && text[at] == ':') ++at;
    if (at < text.size() && (!digits(text, at, 2, minutes) || at + 2 != text.size())) return false;
    if (hours > 15 || minutes > 59) return false;
    out = (text[0] == '-' ? -1 : 1) * (3600.0 * hours + 60.0 * minutes);
    return true;
}

constexpr std::array<std::string_view, 7> time_names{"time",     "timestamp", "datetime", "date_time",
                                                     "time_utc", "date",      "tip_time"};
constexpr std::array<std::string_view, 6> count_names{"count",     "counts",   "tips",
                                                      "tip_count", "tipcount", "pulses"};
constexpr std::array<std::string_view, 3> contact_names{"contact", "channel", "reed"};

template <std::size_t N>
int any_of_names(const std::array<std::string_view, N>& wanted, const std::vector<std::string>& names) {
    for (const auto name : wanted)
        for (std::size_t i = 0; i < names.size(); ++i)
            if (lower(names[i]) == name) return static_cast<int>(i);
    return -1;
}

}  // namespace

LogReader::LogReader(LogFormat format, std::string name, Taker taker)
    : format_(std::move(format)), name_(std::move(name)), taker_(std::move(taker)) {}

Fault LogReader::fault(FaultCode code, const std::string& what, const std::string& remedy) const {
    return {code, what, name_ + ":" + std::to_string(line_), remedy};
}

Outcome LogReader::take(std::string_view piece) {
    while (!piece.empty()) {
        const auto end = piece.find('\n');
        if (end == std::string_view::npos) {
            if (rest_.size() + piece.size() > longest_line) {
                ++line_;
                return fault(FaultCode::syntax, "a line longer than 4000 bytes",
                             "give a text file of a logger");
            }
            rest_.append(piece);
            return Done{};
        }
        const std::string_view text = piece.substr(0, end);
        piece.remove_prefix(end + 1);
        Outcome done = Done{};
        if (rest_.empty()) {
            done = line(text);
        } else {
            rest_.append(text);
            const std::string whole = std::move(rest_);
            rest_.clear();
            done = line(whole);
        }
        if (!done) return done;
    }
    return Done{};
}

Outcome LogReader::finish() {
    if (!rest_.empty()) {
        const std::string whole = std::move(rest_);
        rest_.clear();
        if (auto done = line(whole); !done) return done;
    }
    if (!begun_)
        return Fault{FaultCode::missing_field, "no line with a time", name_,
                     "give the file as the logger wrote it"};
    return Done{};
}

Result<int> LogReader::column(const std::string& wanted, const std::vector<std::string>& names) const {
    for (std::size_t i = 0; i < names.size(); ++i)
        if (names[i] == wanted) return static_cast<int>(i);
    int number = 0;
    const auto [end, error] = std::from_chars(wanted.data(), wanted.data() + wanted.size(), number);
    if (error == std::errc() && end == wanted.data() + wanted.size() && number >= 1 &&
        number <= static_cast<int>(names.size()))
        return number - 1;
    std::string list;
    for (const auto& name : names) list += (list.empty() ? "" : ", ") + name;
    return fault(FaultCode::missing_field, "no column " + in_quotes(wanted),
                 "columns here: " + visible(list).substr(0, 200));
}

Outcome LogReader::heading(std::string_view text, bool named) {
    std::vector<std::string> names;
    for (std::string_view left = text;;) {
        const auto end = left.find(separator_);
        names.emplace_back(trimmed(left.substr(0, end)));
        if (end == std::string_view::npos) break;
        left.remove_prefix(end + 1);
    }
    const auto place = [&](const std::string& wanted, int found, int& at) -> Outcome {
        at = found;
        if (wanted.empty()) return Done{};
        const auto given = column(wanted, names);
        if (!given) return given.fault();
        at = *given;
        return Done{};
    };
    const int time = named ? std::max(0, any_of_names(time_names, names)) : 0;
    if (auto done = place(format_.time_column, time, time_at_); !done) return done;
    if (auto done = place(format_.count_column, named ? any_of_names(count_names, names) : -1, count_at_);
        !done)
        return done;
    if (auto done =
            place(format_.contact_column, named ? any_of_names(contact_names, names) : -1, contact_at_);
        !done)
        return done;
    if (auto done = place(format_.second_column, -1, second_at_); !done) return done;
    if (count_at_ >= 0 && format_.contact_column.empty()) contact_at_ = -1;
    if (count_at_ >= 0 && contact_at_ >= 0)
        return fault(FaultCode::usage, "both a column of counts and one of contacts", "name one of them");
    if (second_at_ >= 0 && count_at_ < 0)
        return fault(FaultCode::usage, "a second column of counts, but no first",
                     "name the column of counts");
    if (count_at_ < 0 && contact_at_ < 0 && names.size() > 1)
        return fault(FaultCode::missing_field, "several columns, and none known as counts or contact",
                     "name it: --count-column NAME or --contact-column NAME (a number counts from 1); of a "
                     "file with a tip "
                     "a line that has neither, --contact-column none");
    counts_ = count_at_ >= 0;
    two_ = second_at_ >= 0;
    last_at_ = std::max({time_at_, count_at_, contact_at_, second_at_});
    return Done{};
}

bool LogReader::time_of(std::string_view text, double& out) {
    text = trimmed(text);
    if (text.size() < 9 || text.find(':') == std::string_view::npos) {  // seconds since 1970
        double seconds = 0;
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), seconds);
        if (error != std::errc() || end != text.data() + text.size()) return false;
        const auto point = text.find('.');
        const std::size_t decimals = point == std::string_view::npos ? 0 : text.size() - point - 1;
        resolution_s_ =
            std::min(resolution_s_, std::pow(10.0, -static_cast<double>(std::min<std::size_t>(decimals, 6))));
        out = seconds;
        return seconds > earliest_s && seconds < latest_s;
    }
    if (text.size() < 16) return false;
    if (day_text_.size() == 10 && text.compare(0, 10, day_text_) == 0) {
    } else {
        int a = 0, b = 0, c = 0;
        double day = 0;
        if ((text[4] == '-' || text[4] == '/') && text[7] == text[4]) {
            if (!digits(text, 0, 4, a) || !digits(text, 5, 2, b) || !digits(text, 8, 2, c) ||
                !day_of(a, b, c, day))
                return false;
        } else if ((text[2] == '.' || text[2] == '/') && text[5] == text[2]) {
            if (!digits(text, 0, 2, a) || !digits(text, 3, 2, b) || !digits(text, 6, 4, c)) return false;
            if (text[2] == '/' && format_.order == DateOrder::automatic) return false;
            if (format_.order == DateOrder::month_first) std::swap(a, b);
            if (!day_of(c, b, a, day)) return false;
        } else {
            return false;
        }
        day_text_.assign(text.substr(0, 10));
        day_s_ = day;
    }
    int hour = 0, minute = 0, second = 0;
    if ((text[10] != 'T' && text[10] != ' ') || !digits(text, 11, 2, hour) || text[13] != ':' ||
        !digits(text, 14, 2, minute) || hour > 23 || minute > 59)
        return false;
    std::size_t at = 16;
    double fraction = 0;
    if (at < text.size() && text[at] == ':') {
        if (!digits(text, at + 1, 2, second) || second > 60) return false;
        at += 3;
        double unit = 1;
        if (at < text.size() && (text[at] == '.' || text[at] == ',')) {
            for (++at; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at) {
                unit /= 10;
                fraction += unit * (text[at] - '0');
            }
        }
        resolution_s_ = std::min(resolution_s_, std::max(unit, 1e-6));
    }
    double zone = format_.utc_offset_s;
    if (at < text.size() && !zone_of(trimmed(text.substr(at)), zone)) return false;
    out = day_s_ + 3600 * hour + 60 * minute + second + fraction - zone;
    return out > earliest_s && out < latest_s;
}

Outcome LogReader::line(std::string_view text) {
    ++line_;
    if (line_ == 1 && text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
    if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    if (text.empty() || text.front() == '#' || trimmed(text).empty()) return Done{};
    if (text.find('\0') != std::string_view::npos)
        return fault(FaultCode::syntax, "a zero byte in the line", "give a text file of a logger");
    if (!begun_) {
        separator_ = text.find(';') != std::string_view::npos    ? ';'
                     : text.find('\t') != std::string_view::npos ? '\t'
                                                                 : ',';
        // A heading has no time anywhere.
        bool named = true;
        double seen = 0;
        const double before = resolution_s_;
        for (std::string_view left = text;;) {
            const auto end = left.find(separator_);
            const std::string_view one = trimmed(left.substr(0, end));
            // A time that cannot be read is a fault of its line, no heading.
            int day = 0;
            const bool looks_so = digits(one, 0, 2, day) && one.find(':') != std::string_view::npos;
            if (looks_so || (one.size() >= 9 && time_of(one, seen))) named = false;
            if (end == std::string_view::npos) break;
            left.remove_prefix(end + 1);
        }
        resolution_s_ = before;
        begun_ = true;
        if (format_.contact_column == "none") {
            format_.contact_column.clear();
            LogFormat kept = format_;
            // Only the time counts, however many columns there are.
            std::string first(text.substr(0, text.find(separator_)));
            if (auto done = heading(format_.time_column.empty() ? std::string_view(first) : text, named);
                !done && done.fault().code != FaultCode::missing_field)
                return done;
            counts_ = false;
            contact_at_ = count_at_ = second_at_ = -1;
            last_at_ = time_at_;
        } else if (auto done = heading(text, named); !done) {
            return done;
        }
        if (named) {
            heading_ = std::string(text);
            return Done{};
        }
    } else if (!heading_.empty() && text == heading_) {
        return Done{};
    }
    std::array<std::string_view, 3> field{};  // time, contact or count, second
    int at = 0;
    for (std::string_view left = text;; ++at) {
        const auto end = left.find(separator_);
        const std::string_view one = left.substr(0, end);
        if (at == time_at_) field[0] = one;
        if (at == contact_at_ || at == count_at_) field[1] = one;
        if (at == second_at_) field[2] = one;
        if (end == std::string_view::npos || at == last_at_) break;
        left.remove_prefix(end + 1);
    }
    if (at < last_at_)
        return fault(FaultCode::syntax, "a line with too few columns", "mend or take out this line");
    LogEntry entry;
    entry.line = line_;
    if (!time_of(field[0], entry.time_s))
        return fault(
            FaultCode::bad_value, "no time: " + in_quotes(std::string(field[0])),
            "times are 2031-05-04 10:11:12.5 or seconds since 1970; of DD/MM/YYYY and MM/DD/YYYY say which: "
            "--dates");
    const auto number = [&](std::string_view text_of, int& out) {
        text_of = trimmed(text_of);
        if (text_of.empty() || lower(text_of) == "nan" || lower(text_of) == "na") {
            out = -1;
            return true;
        }
        const auto [end, error] = std::from_chars(text_of.data(), text_of.data() + text_of.size(), out);
        std::string_view tail(end, static_cast<std::size_t>(text_of.data() + text_of.size() - end));
        if (!tail.empty() && (tail[0] == '.' || tail[0] == ','))  // "3.0"
            tail = tail.find_first_not_of("0", 1) == std::string_view::npos ? std::string_view() : tail;
        return error == std::errc() && tail.empty() && out >= 0 && out <= 1000000;
    };
    if (counts_) {
        if (!number(field[1], entry.count) || (two_ && !number(field[2], entry.second)))
            return fault(FaultCode::bad_value, "no count of tips: " + in_quotes(std::string(field[1])),
                         "counts are whole numbers, or empty where the logger has none");
    } else if (contact_at_ >= 0) {
        if (!number(field[1], entry.contact) || entry.contact < 1 || entry.contact > 2)
            return fault(FaultCode::bad_value, "no contact: " + in_quotes(std::string(field[1])),
                         "contacts are 1 and 2");
        two_ = two_ || entry.contact == 2;
    }
    return taker_(entry);
}

}  // namespace tipwright::calib
