// The logger's correction as plain text for who writes a logger's program: formula, meaning of its letters,
// range, worked example, with the document's reservations. UTF-8, LF, in the certificate's language and with
// its decimal sign; the same numbers as the certificate.
#pragma once

#include <string>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// A record without a correction gets a text that says so, and why.
std::string formula_text(const Record& record, const certificate::Words& words);

}  // namespace tipwright::report
