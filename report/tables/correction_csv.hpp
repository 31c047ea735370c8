// Tables for other programs, as CSV (RFC 4180, UTF-8, decimal point, LF): the logger's correction and the
// results of each step. Lines that begin with # say what the table is; then one line of column names with
// units. U columns are expanded uncertainties at the record's coverage probability; values and uncertainties
// are rounded by calib/base/rounding.hpp.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// Reservations in the certificate's language (report/certificate/finding_words.hpp); where none are given,
// those of the record stand by their names.
using Sentences = std::vector<std::string>;

// Fault inconsistent: the record has no correction (a static check); says why.
Result<std::string> correction_csv(const Record& record, const Sentences& reservations = {});

std::string results_csv(const Record& record, const Sentences& reservations = {});
// One line a run of the steps that were repeated, with those the plan's rule discarded.
std::string runs_csv(const Record& record, const Sentences& reservations = {});

// A value that has no uncertainty of its own, with so many significant digits; decimal point.
std::string significant(double value, int digits);

}  // namespace tipwright::report
