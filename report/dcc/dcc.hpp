// Digital Calibration Certificate: the certificate as XML for machines, DCC 3.3.0 with D-SI 2.2.1 units
// (https://ptb.de/dcc/v3.3.0/dcc.xsd). It says what the PDF says: the same values, rounded once by
// calib/base/rounding.hpp, with expanded uncertainty, k and coverage probability; conditions, method,
// instruments, conformity. Each result is one list with as many entries as the record has steps. Verdicts in
// its words (after ILAC-G8:09/2019 clause 4.2.3): pass, fail; no decision is conditionalPass when the error
// itself lies within the limits, else conditionalFail.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// An earlier certificate that this one replaces (ISO/IEC 17025:2017 clause 7.8.8).
struct ReplacedCertificate {
    bool amended = false;  // false: substituted
    std::string number;
    std::string sha256;  // of its file
};

struct DccOptions {
    certificate::Words words;
    std::string country;  // of the laboratory, ISO 3166-1 alpha-2, "NO"
    // laboratory, customer, laboratoryBranch, customerBranch, other; empty: laboratory, or other for data
    // that were supplied.
    std::string place_kind;
    std::string laboratory;          // who issues what others measured: of the letterhead
    std::optional<Record> as_found;  // the same gauge before adjustment
    std::vector<std::string> work;   // service of the gauge, in words: report/certificate/work_words.hpp
    std::optional<ReplacedCertificate> replaces;
    std::string pdf;  // bytes of the certificate, carried inside; may be empty
    std::string pdf_name = "certificate.pdf";
};

// Faults: inconsistent (record incomplete, no step), missing_field (the DCC asks for a fact the record lacks:
// number, serial number, dates, a person), bad_value (country, kind of place, a coverage factor below 1).
Result<std::string> dcc_xml(const Record& record, const DccOptions& options);

}  // namespace tipwright::report
