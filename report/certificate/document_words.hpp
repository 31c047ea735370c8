// What a document is called, by what it may claim (calib::DocumentKind): calibration certificate, test
// report, evaluation report. No page, file or metadata calls itself by another name.
#pragma once

#include <string>
#include <string_view>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

// "Test report".
std::string document_title(const Words& words, const Record& record);
// "Report number".
std::string document_number_label(const Words& words, const Record& record);
// The certificate's number; of a draft that it is one, in the language.
const std::string& document_number(const Words& words, const Record& record);
// "Test report B1-2031-00001", for heads and feet.
std::string document_name(const Words& words, const Record& record);
// "End of test report B1-2031-00001".
std::string document_end(const Words& words, const Record& record);
// "This is no calibration certificate: test report."; empty for one.
std::string no_certificate_sentence(const Words& words, const Record& record);
// The text of a key; for a gauge of one compartment, a spoon, of the same key with "_single".
const std::string& by_compartments(const Words& words, const Record& record, std::string_view key);
// The text of a key; where the document is no calibration certificate, of the same key with "_measured".
const std::string& by_document(const Words& words, const Record& record, std::string_view key);
// Who issues: the laboratory that measured; of data that others supplied, and where the record names none,
// whom the letterhead names. Its name may be empty.
Party issuer_of(const Record& record, const std::string& letterhead_laboratory);
// "Calibrated by", "Measured by"; of supplied data who measured elsewhere, and that it is as supplied.
const std::string& performed_by_label(const Words& words, const Record& record);

}  // namespace tipwright::report::certificate
