// How a run on the bench was carried out, as a paragraph in the certificate's language, from plan and gauge
// of the record. What was not measured on the bench by this program is told by Record::method itself.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

std::string method_words(const Record& record, const Words& words);
// Its first sentence, and what such a run could not have seen.
std::string method_in_brief(const Record& record, const Words& words);

// What was otherwise than the method has it (ISO/IEC 17025:2017, 7.8.2.1 n): as stated with the record,
// concessions, remarks of the run, steps outside the laboratory's environment, ended at their time limit or
// withheld. Empty: nothing.
std::vector<std::string> deviations_words(const Record& record, const Words& words);
// A finding that stands among them.
bool is_deviation(const calib::Finding& finding);

}  // namespace tipwright::report::certificate
