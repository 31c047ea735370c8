#include "calib/rain/tips_log.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include "calib/base/ascii.hpp"
#include "calib/base/dates.hpp"
#include "calib/base/text.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t longest_line = 4000;

// Without blanks around it, and then without quotation marks.
std::string_view bare(std::string_view field) {
    field = trimmed(field, " \t\r");
    const bool quoted = field.size() >= 2 && field.front() == '"' && field.back() == '"';
    return quoted ? field.substr(1, field.size() - 2) : field;
}

constexpr std::array<std::string_view, 7> time_names{"time",     "timestamp", "datetime", "date_time",
                                                     "time_utc", "date",      "tip_time"};
// Of a date beside a time.
constexpr std::array<std::string_view, 2> date_names{"date", "day"};
constexpr std::array<std::string_view, 6> count_names{"count",     "counts",   "tips",
                                                      "tip_count", "tipcount", "pulses"};
constexpr std::array<std::string_view, 3> contact_names{"contact", "channel", "reed"};

template <std::size_t N>
int any_of_names(const std::array<std::string_view, N>& wanted, const std::vector<std::string>& names) {
    for (const auto name : wanted)
        for (std::size_t i = 0; i < names.size(); ++i)
            if (small_letters(names[i]) == name) return static_cast<int>(i);
    return -1;
}

}  // namespace

LogReader::LogReader(LogFormat format, std::string name, Taker taker)
    : format_(std::move(format)),
      name_(std::move(name)),
      taker_(std::move(taker)),
      times_(format_.order, format_.utc_offset_s, format_.zone) {}

Fault LogReader::fault(FaultCode code, const std::string& what, const std::string& remedy) const {
    return {code, what, name_ + ":" + std::to_string(line_), remedy};
}

Outcome LogReader::take(std::string_view piece) {
    zero_seen_ = zero_seen_ || piece.find('\0') != std::string_view::npos;
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

Outcome LogReader::heading(std::string_view text, bool named, bool times_only) {
    std::vector<std::string> names;
    for (std::string_view left = text;;) {
        const auto end = left.find(separator_);
        names.emplace_back(bare(left.substr(0, end)));
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
    const int date = named ? any_of_names(date_names, names) : -1;
    if (date >= 0 && date != time_at_ && format_.time_column.empty()) {
        clock_at_ = time_at_;
        time_at_ = date;
    }
    if (times_only) return Done{};
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
    if (count_at_ < 0 && contact_at_ < 0 && names.size() > (clock_at_ >= 0 ? 2U : 1U))
        return fault(FaultCode::missing_field, "several columns, and none known as counts or contact",
                     "name it: --count-column NAME or --contact-column NAME (a number counts from 1); of a "
                     "file with a tip "
                     "a line that has neither, --contact-column none");
    counts_ = count_at_ >= 0;
    two_ = second_at_ >= 0;
    last_at_ = std::max({time_at_, clock_at_, count_at_, contact_at_, second_at_});
    return Done{};
}

Outcome LogReader::time_of(std::string_view text, std::string_view clock, double& out) {
    text = bare(text);
    clock = bare(clock);
    std::string both;
    if (clock_at_ >= 0 && text.find(':') == std::string_view::npos) {
        both.append(text).append(" ").append(clock);
        text = both;
    }
    if (!times_.read(text, out))
        return fault(FaultCode::bad_value, "no time: " + in_quotes(std::string(text)), times_.why());
    const bool whole_day = times_.whole_day();
    if (whole_day && !counts_)
        return fault(FaultCode::bad_value, "a tip on a day, but at no time: " + in_quotes(std::string(text)),
                     "give tips with their times of day; counts of days need a column of counts: "
                     "--count-column");
    if (whole_days_.value_or(whole_day) != whole_day)
        return fault(FaultCode::bad_value,
                     whole_day ? "a date alone, after lines with a time of day"
                               : "a time of day, after lines with a date alone",
                     "give all lines alike");
    whole_days_ = whole_day;
    if (whole_day && !format_.names_start) out += day_s;  // the end of its count
    times_.taken(out);
    return Done{};
}

Outcome LogReader::line(std::string_view text) {
    ++line_;
    if (line_ == 1 && text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
    if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    if (text.empty() || text.front() == '#' || bare(text).empty()) return Done{};
    if (zero_seen_ && text.find('\0') != std::string_view::npos)
        return fault(FaultCode::syntax, "a zero byte in the line", "give a text file of a logger");
    if (!begun_) {
        separator_ = text.find(';') != std::string_view::npos    ? ';'
                     : text.find('\t') != std::string_view::npos ? '\t'
                                                                 : ',';
        // A heading has no time anywhere. One that cannot be read is a fault of its line, no heading.
        bool named = true;
        for (std::string_view left = text;;) {
            const auto end = left.find(separator_);
            const std::string_view one = bare(left.substr(0, end));
            double seconds = 0;
            const auto [last, error] = std::from_chars(one.data(), one.data() + one.size(), seconds);
            const bool since_1970 =
                error == std::errc() && last == one.data() + one.size() && one.size() >= 9;
            if (LogTimes::looks_like_time(one) || since_1970) named = false;
            if (end == std::string_view::npos) break;
            left.remove_prefix(end + 1);
        }
        begun_ = true;
        if (format_.contact_column == "none") {
            // Only the time counts, however many columns there are.
            if (auto done = heading(text, named, true); !done) return done;
            counts_ = false;
            contact_at_ = count_at_ = second_at_ = -1;
            last_at_ = std::max(time_at_, clock_at_);
        } else if (auto done = heading(text, named, false); !done) {
            return done;
        }
        if (named) {
            heading_ = std::string(text);
            return Done{};
        }
    } else if (!heading_.empty() && text == heading_) {
        return Done{};
    }
    std::array<std::string_view, 4> field{};  // time, contact or count, second, clock
    int at = 0;
    for (std::string_view left = text;; ++at) {
        const auto end = left.find(separator_);
        const std::string_view one = left.substr(0, end);
        if (at == time_at_) field[0] = one;
        if (at == contact_at_ || at == count_at_) field[1] = one;
        if (at == second_at_) field[2] = one;
        if (at == clock_at_) field[3] = one;
        if (end == std::string_view::npos || at == last_at_) break;
        left.remove_prefix(end + 1);
    }
    if (at < last_at_)
        return fault(FaultCode::syntax, "a line with too few columns", "mend or take out this line");
    LogEntry entry;
    entry.line = line_;
    if (auto done = time_of(field[0], field[3], entry.time_s); !done) return done;
    const auto number = [&](std::string_view text_of, int& out) {
        text_of = bare(text_of);
        if (text_of.empty() || small_letters(text_of) == "nan" || small_letters(text_of) == "na") {
            out = -1;
            return true;
        }
        const auto [end, error] = std::from_chars(text_of.data(), text_of.data() + text_of.size(), out);
        std::string_view tail(end, static_cast<std::size_t>(text_of.data() + text_of.size() - end));
        if (!tail.empty() && (tail[0] == '.' || tail[0] == ','))  // "3.0"
            tail = tail.find_first_not_of('0', 1) == std::string_view::npos ? std::string_view() : tail;
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
