// LogTimes: times as loggers write them, to seconds since 1970-01-01 UTC. Read is what can be read without a
// guess; of the rest, why not.
//   date    2031-05-04, 2031/5/4, 4.5.2031; 5/4/2031 and 5-4-2031 where it is said whether day or month comes
//           first. A year has four digits.
//   clock   after a blank or T: 10:11, 10:11:12, 10:11:12.5; with AM or PM 1 to 12 o'clock (12 AM is
//   midnight) zone    Z, UTC, GMT, +01:00, +0100, +01 behind it; else the logger's own: a fixed distance to
//   UTC, or a
//           zone with its changes between summer and winter (IANA tz database, given by who calls). Letters
//           such as CST stand for several zones and are refused. A time that a zone's clocks skip in spring
//           is none; one that they pass twice in autumn is told apart by what came before, else refused.
//   or seconds since 1970, or a date alone: a whole day (ISO 8601), for counts.
// Pure. One object reads one log: it remembers the time before.
#pragma once

#include <limits>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::calib {

// Times of a log lie between: no log is older, and no zone's rules are made further ahead.
inline constexpr double earliest_log_s = -631152000;  // 1950
inline constexpr double latest_log_s = 7258118400;    // 2200

enum class DateOrder { automatic, day_first, month_first };

struct ZoneChange {
    double from_utc_s = 0;  // from then on
    double offset_s = 0;    // clocks are so far ahead of UTC
};

class LogTimes {
public:
    // changes ascending, the first before all times; empty: utc_offset_s always. A date alone begins at
    // midnight by utc_offset_s, a zone's time in winter: its days are 24 h long.
    LogTimes(DateOrder order, double utc_offset_s, std::vector<ZoneChange> changes)
        : order_(order), utc_offset_s_(utc_offset_s), changes_(std::move(changes)) {}

    // False: why() says the reason and what to do.
    bool read(std::string_view text, double& out);
    bool whole_day() const { return whole_day_; }  // what was read last is a date alone
    const std::string& why() const { return why_; }
    // What stands in a log for a date, a clock or a number: no name of a column.
    static bool looks_like_time(std::string_view text);
    // A clock without a date, "10:11:12": its date stands in another column.
    static bool is_clock_alone(std::string_view text);
    // The time was taken as one of the log: the next is compared with it.
    void taken(double time_s);
    double resolution_s() const { return resolution_s_; }

private:
    bool refused(std::string why);
    bool date(std::string_view text);
    bool clock(std::string_view text, double& seconds, std::string_view& rest);
    bool in_zone(double local_s, std::string_view text, double& out);

    DateOrder order_;
    double utc_offset_s_;
    std::vector<ZoneChange> changes_;
    double resolution_s_ = 60;  // as written: 60, 1, 0.1, ...
    bool whole_day_ = false;
    std::string why_;
    // A day seen last: most lines share it.
    std::string day_text_;
    double day_s_ = 0;
    double last_s_ = std::numeric_limits<double>::quiet_NaN();
    double step_s_ = std::numeric_limits<double>::quiet_NaN();
};

// "+01:00", "-0330", "+05", "Z", "UTC", "GMT"; false: none of them.
bool fixed_zone(std::string_view text, double& offset_s);

}  // namespace tipwright::calib
