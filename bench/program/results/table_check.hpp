// Tables that a run leaves (correction, results, runs as CSV) held against the records beside them.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

enum class TableMatch { no_such_table, differs, follows };
// Whether the table is the one that would be written of this record, its reservations in any of the
// languages.
TableMatch match_table(const report::Record& record, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages);
// The bytes without the line of a seal at their end.
std::string without_seal_line(const std::string& bytes);

}  // namespace tipwright::program
