// The logger's correction as plain text for who writes a logger's program: formula, meaning of its letters,
// range, worked example. UTF-8, decimal point, LF. The same numbers as correction.csv and the certificate.
#pragma once

#include <string>

#include "report/record/record.hpp"

namespace tipwright::report {

// A record without a correction gets a text that says so, and why.
std::string formula_text(const Record& record);

}  // namespace tipwright::report
