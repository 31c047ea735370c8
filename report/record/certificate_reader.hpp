// What travels inside a certificate: the attached files of a PDF, by qpdf. Nothing is repaired: a damaged
// file is refused. Caps on the size of the file and of what it unpacks to.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/files/attachments.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_certificate_bytes = 64u << 20;

// `name` is the file's name, for messages. Faults: file_too_large, damaged.
Result<std::vector<std::string>> attachment_names(std::string_view pdf, const std::string& name);

// Besides: missing_field when nothing of that name is attached.
Result<std::string> read_attachment(std::string_view pdf, const std::string& name,
                                    const std::string& attachment);

// The attached record, as the bytes that were attached.
Result<std::string> read_attached_record(std::string_view pdf, const std::string& name);

// The printed words, page by page, each run of text as it was drawn. For certificates of this program: the
// text of other PDFs comes out in whatever their fonts make of it.
Result<std::vector<std::vector<std::string>>> printed_text(std::string_view pdf, const std::string& name);

}  // namespace tipwright::report
