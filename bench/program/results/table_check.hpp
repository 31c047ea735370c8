// Tables that a run leaves (correction, results, runs as CSV) held against the records beside them.
#pragma once

#include <string>
#include <vector>

#include "report/record/record.hpp"

namespace tipwright::program {

// The table as it would be written of this record; empty: this record has no such table.
std::string table_of(const report::Record& record, const std::string& bytes);
// The bytes without the line of a seal at their end.
std::string without_seal_line(const std::string& bytes);

}  // namespace tipwright::program
