// Tables that a run leaves (report/tables/tables.hpp) and the formula as text, held against the records
// beside them.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

// only_numbers: those are of the record; the sentences at its head are in the words of the version that made
// the record, which this one does not have.
enum class TableMatch { no_such_table, differs, only_numbers, follows };
// Whether the table is the one that would be written of this record, its reservations in any of the
// languages.
TableMatch match_table(const report::Record& record, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages);
// The same of a text of the correction's formula; no_such_table: in the words of another language or version
// of the program, which cannot be made again.
TableMatch match_formula(const report::Record& record, const std::string& bytes,
                         const std::vector<report::certificate::Words>& languages);
// Whether a table's numbers are those of this record, whatever language its comments are in.
bool rows_follow(const report::Record& record, const std::string& bytes,
                 const report::certificate::Words& words);
// The bytes without the line of a seal at their end.
std::string without_seal_line(const std::string& bytes);

}  // namespace tipwright::program
