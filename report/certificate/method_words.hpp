// How a run on the bench was carried out, as a paragraph in the certificate's language, from plan and gauge
// of the record. What was not measured on the bench by this program is told by Record::method itself.
#pragma once

#include <string>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

std::string method_words(const Record& record, const Words& words);
// Its first sentence, and what such a run could not have seen.
std::string method_in_brief(const Record& record, const Words& words);

}  // namespace tipwright::report::certificate
