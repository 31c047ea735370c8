// How a person wants times and intensities shown on the terminal and the page: in their time zone, and with
// in/h beside mm/h. Files and JSON stay in UTC and mm/h. Chosen once, before anything is shown.
#pragma once

#include <string>

#include "calib/base/fault.hpp"

namespace tipwright::program {

struct ShownAs {
    std::string zone;   // "Europe/Vienna", "UTC", "+01:00", "local"; empty: as kept, in UTC
    std::string units;  // "in/h": beside mm/h; empty or "mm/h": nothing beside
};

// Fault: bad_value (no such time zone).
Outcome show_as(const ShownAs& wanted);
bool inches_shown();
// "2026-11-26T08:00:00Z" as "2026-11-26 09:00:00 CET"; as it is where no zone was chosen, or where it is no
// moment.
std::string shown_moment(const std::string& utc);
// An intensity in in/h, 25.4 mm to the inch.
std::string inches_per_hour(double mm_h);
// The same as a column of eight characters behind one in mm/h; empty where in/h is not shown.
std::string inches_column(double mm_h);

}  // namespace tipwright::program
