// What a database says of a failure, as a fault of the register: the same for both databases, and without the
// statement and its values. Private to report/register.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report {

// Without SOCI's copy of the statement and its values, and without these secrets.
std::string said_by_database(std::string text, const std::vector<std::string>& secrets);

// `result`: SQLite's own code.
Fault sqlite_fault(int result, const std::string& said, const std::string& where);
// Before SQLite gave one.
Fault sqlite_fault(const std::string& said, const std::string& where);
// `state`: SQLSTATE. Fault database_unreachable: of a lost connection, or of a lock that others hold (55P03).
Fault postgresql_fault(const std::string& state, const std::string& said, const std::string& where,
                       bool connected);

}  // namespace tipwright::report
