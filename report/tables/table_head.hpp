// Head of a table for other programs, and of the correction as text: lines "# label: value" that say whose
// table it is and what is reserved, in the certificate's language. Internal to report/tables and report/pack.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

using HeadLine = std::pair<std::string, std::string>;

// Kind, number and marks of the document, its reservations and what is not traceable: what no file that
// carries a verdict or a correction goes without.
std::vector<HeadLine> document_lines(const Record& record, const certificate::Words& words);
// Gauge, station, state, day.
std::vector<HeadLine> gauge_lines(const Record& record, const certificate::Words& words);

void comment(std::string& out, const std::string& label, const std::string& text);

// kind: "correction", "results" or "runs".
std::string table_head(const Record& record, std::string_view kind, const certificate::Words& words,
                       TableForm form);

}  // namespace tipwright::report
