// The time zone of a logger's times, as a person names it: a distance to UTC, or a zone of the IANA tz
// database (through ICU) with all its changes between summer and winter.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rain/log_time.hpp"

namespace tipwright::program {

struct LogZone {
    double offset_s = 0;                     // of days: fixed; of a zone with summer time that of winter
    std::vector<calib::ZoneChange> changes;  // empty: no changes
};

// "+01:00", "UTC", "Z", "Europe/Vienna"; empty: UTC. Fault: bad_value (letters such as CST stand for several
// zones; Etc/GMT+1 lies west of Greenwich and is taken for east).
Result<LogZone> log_zone(const std::string& name);

}  // namespace tipwright::program
