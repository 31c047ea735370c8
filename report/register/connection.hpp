// Connection strings of PostgreSQL (libpq: key=value words or a postgresql:// address), read by libpq itself.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report {

struct Connection {
    std::string words;                 // key='value' ..., with what the register needs added
    std::string place;                 // host and database, for messages
    std::vector<std::string> secrets;  // never to be shown
};

// True for what open() should take as a PostgreSQL connection string and not as a folder.
bool is_postgresql(const std::string& location);
// Fault: syntax.
Result<Connection> read_connection(const std::string& text);

}  // namespace tipwright::report
