// What libharu cannot do to a PDF, done by qpdf in memory: attached files, document information in Unicode
// and as XMP, a table by which text can be taken out again, structure and bookmarks, a place for a signature,
// an identifier that depends on the content alone. The result claims neither PDF/A nor PDF/UA: colours have
// no output intent, and nobody has checked reading order and alternative texts against ISO 14289.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/certificate/canvas.hpp"

namespace tipwright::report::certificate {

struct Attachment {
    std::string name;
    std::string media_type;  // "application/json"
    std::string description;
    std::string bytes;
};

// Place for an X.509 signature (report/seal/pdf_signature.hpp fills it): an invisible field on the first
// page.
struct SignaturePlace {
    std::size_t bytes = 0;  // of the CMS signature; 0: no place
    std::string name;       // of who signs
    std::string moment;     // ISO 8601 UTC, the claimed time of signing
};

struct DocumentInfo {
    std::string title;
    std::string author;
    std::string subject;
    std::string creator;
    std::string language;  // "en"
    std::string date;      // ISO date or ISO 8601 UTC moment; empty: none is written
    SignaturePlace signature;
};

// Fault damaged: `pdf` is none.
Result<std::string> finish_pdf(std::string_view pdf, const std::vector<Attachment>& attachments,
                               const DocumentInfo& info, const std::vector<StructureNode>& structure);

}  // namespace tipwright::report::certificate
