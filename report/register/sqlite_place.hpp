// Where a SQLite database lies, whether it can be written there, and what its last writer left beside it.
// Private to report/register; throws Stop.
#pragma once

#include <string>

namespace tipwright::report {

struct SqlitePlace {
    std::string path;
    bool cannot_be_written = false;  // on such a medium or in such a folder
};

// Fault: file_missing, bad_value; file_unwritable where it cannot be written and was not closed by who wrote
// last.
SqlitePlace sqlite_place(const std::string& path);
// A transaction was cut off and stands half in the database: who only reads cannot take it back. Fault:
// file_unwritable.
void refuse_unfinished(const SqlitePlace& place);

// For SOCI.
std::string writing_parameters(const SqlitePlace& place);
std::string read_only_parameters(const SqlitePlace& place, int wait_s);

}  // namespace tipwright::report
