// What was commanded from a page beside the bench, for the audit log: who, by which device, which command.
// What a command then writes into the register has entries of its own; starting and stopping runs writes
// nothing else.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report {

struct PageCommand {
    std::string person;   // logged in; empty: nobody was
    std::string device;   // which asked
    std::string command;  // "/run/left/stop"
    std::vector<std::pair<std::string, std::string>> details;
};

// Appends one entry, over a connection of its own: from any thread. `location` as for Register::open(), of a
// register that is there and up to date. `now`: UTC; empty: as of the log's last entry. A clock that lags
// behind that entry keeps no command out: the entry then bears the log's time, and the clock's beside it.
// Faults: bad_value (no UTC time), those of the database.
Outcome log_command(const std::string& location, const std::string& now, const PageCommand& command);

}  // namespace tipwright::report
