// Tables for other programs, as CSV (RFC 4180, UTF-8, decimal point, LF): the logger's correction and the
// results of each step. Lines that begin with # say what the table is and what is reserved, in the
// certificate's language (table_head.hpp); then one line of column names with units, in English. U columns
// are expanded uncertainties at the record's coverage probability; values and uncertainties are rounded by
// calib/base/rounding.hpp. A verdict that stands with reservation is pass_reserved, fail_reserved or
// undecided_reserved.
#pragma once

#include <string>

#include "calib/base/fault.hpp"
#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// of_1_0: as version 1.0 wrote it, which knew English labels alone and no reservation beside a verdict; for
// who checks such a table.
enum class TableForm { current, of_1_0 };

// Fault inconsistent: the record has no correction (a static check); says why.
Result<std::string> correction_csv(const Record& record, const certificate::Words& words,
                                   TableForm form = TableForm::current);

std::string results_csv(const Record& record, const certificate::Words& words,
                        TableForm form = TableForm::current);
// One line a run of the steps that were repeated, with those the plan's rule discarded.
std::string runs_csv(const Record& record, const certificate::Words& words,
                     TableForm form = TableForm::current);

// A value that has no uncertainty of its own, with so many significant digits; decimal point.
std::string significant(double value, int digits);

}  // namespace tipwright::report
