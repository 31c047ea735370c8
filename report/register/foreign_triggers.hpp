// What acts in a register by itself: its guards, and nothing else. A trigger or rule that somebody added may
// change whatever is entered before the log sees it. Private to report/register.
#pragma once

#include <vector>

#include "report/register/database.hpp"

namespace tipwright::report {

// A fault for each guard that is gone or was changed, and for each trigger, rule or view that is not the
// register's. Throws Stop.
std::vector<Fault> foreign_triggers(Database& database);

}  // namespace tipwright::report
