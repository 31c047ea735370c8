// Why a PostgreSQL server lets nobody in: password, user, database, rules of the server, or no server at all;
// one line that says which. By the server's own SQLSTATE, so that the language it speaks does not matter.
#pragma once

#include <string>

#include "calib/base/fault.hpp"

namespace tipwright::report {

// `words`: the connection string that was refused, tried once more to hear why, unless `said` tells that
// nobody answered in time; `where`: as messages call the place. not_permitted: the server answered and
// refused; database_unreachable: nobody answered, or it is not ready.
Fault refused_connection(const std::string& words, const std::string& where, const std::string& said);

}  // namespace tipwright::report
