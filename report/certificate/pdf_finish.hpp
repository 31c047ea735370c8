// What libharu cannot do to a PDF, done by qpdf in memory: attached files, document information in Unicode,
// a table by which text can be taken out again, an identifier that depends on the content alone.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report::certificate {

struct Attachment {
    std::string name;
    std::string media_type;  // "application/json"
    std::string description;
    std::string bytes;
};

struct DocumentInfo {
    std::string title;
    std::string author;
    std::string subject;
    std::string creator;
    std::string language;  // "en"
    std::string date;      // ISO date or ISO 8601 UTC moment; empty: none is written
};

// Fault damaged: `pdf` is none.
Result<std::string> finish_pdf(std::string_view pdf, const std::vector<Attachment>& attachments,
                               const DocumentInfo& info);

}  // namespace tipwright::report::certificate
