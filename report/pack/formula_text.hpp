// The logger's correction as plain text for who writes a logger's program: formula, meaning of its letters,
// range, worked example. UTF-8, decimal point, LF. The same numbers as correction.csv and the certificate.
#pragma once

#include <string>
#include <vector>

#include "report/record/record.hpp"

namespace tipwright::report {

// A record without a correction gets a text that says so, and why.
// reservations: as in report/tables/correction_csv.hpp.
std::string formula_text(const Record& record, const std::vector<std::string>& reservations = {});

}  // namespace tipwright::report
