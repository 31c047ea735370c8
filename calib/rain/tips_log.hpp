// Tips log: what a station's logger wrote, line by line, as tips or counts. Pure: text comes in pieces of any
// size, so that files of any length need no memory.
//   a tip a line      time, and perhaps which of two contacts closed
//   counts            time, tips in the interval (of two contacts: two columns); interval 1 s to 1 d
// Columns are found by the names in the heading, or by number from 1; separator comma, semicolon or tab;
// lines that begin with # and headings repeated are passed over. Times: calib/rain/log_time.hpp; a date and a
// clock may stand in two columns named so. A date alone is the whole day that a count belongs to, 24 h from
// midnight; of a tip it is none. Faults: syntax, bad_value, missing_field, with file:line.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rain/log_time.hpp"

namespace tipwright::calib {

struct LogFormat {
    std::string time_column;       // name or number; empty: "time", "timestamp", "date", ..., else the first
    std::string contact_column;    // a tip a line: 1 or 2; empty: "contact" where there is one
    std::string count_column;      // counts; empty: "count", "tips", ... where there is one
    std::string second_column;     // counts of the second contact
    double interval_s = 0;         // of counts; 0: the distance of the first two times
    bool names_start = false;      // a count's time is the beginning of its interval; else its end
    double utc_offset_s = 0;       // of times without a zone, where zone is empty, and of days
    std::vector<ZoneChange> zone;  // of times without one
    DateOrder order = DateOrder::automatic;
};

struct LogEntry {
    double time_s = 0;  // since 1970-01-01 UTC; of a count the end of its interval
    int contact = 0;    // of a tip: 1 or 2; 0: not said
    // Counts; -1: the field is empty, the logger has no value.
    int count = 0;
    int second = 0;
    std::uint64_t line = 0;
};

class LogReader {
public:
    using Taker = std::function<Outcome(const LogEntry&)>;
    LogReader(LogFormat format, std::string name, Taker taker);

    Outcome take(std::string_view piece);
    Outcome finish();

    bool counts() const { return counts_; }
    bool two_contacts() const { return two_; }
    // Resolution of the times as written, s: 60, 1, 0.1, ...
    double resolution_s() const { return times_.resolution_s(); }
    // Counts of days: dates alone.
    bool whole_days() const { return whole_days_.value_or(false); }
    std::uint64_t lines() const { return line_; }

private:
    Outcome line(std::string_view text);
    Outcome heading(std::string_view text, bool named, bool times_only);
    Result<int> column(const std::string& wanted, const std::vector<std::string>& names) const;
    Fault fault(FaultCode code, const std::string& what, const std::string& remedy) const;
    Outcome time_of(std::string_view text, std::string_view clock, double& out);

    LogFormat format_;
    std::string name_;
    Taker taker_;
    std::string rest_;
    std::string heading_;
    bool zero_seen_ = false;  // in the pieces so far: lines are searched only then
    bool begun_ = false;
    bool counts_ = false;
    bool two_ = false;
    char separator_ = ',';
    int time_at_ = 0, contact_at_ = -1, count_at_ = -1, second_at_ = -1;
    int last_at_ = 0;
    int clock_at_ = -1;  // a clock in a column of its own
    std::uint64_t line_ = 0;
    LogTimes times_;
    std::optional<bool> whole_days_;
};

}  // namespace tipwright::calib
