// A laboratory's own head and foot for its certificates, from a TOML file
// (templates/certificate/letterhead.toml): a picture, an accreditation mark, a note under the name, a line at
// the foot of each page. No code changes for a new laboratory.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"
#include "report/certificate/certificate.hpp"

namespace tipwright::report {

// The picture's path is relative to the file. Faults: file_missing, file_too_large, syntax, unknown_field,
// bad_value, damaged (no PNG and no JPEG).
Result<Letterhead> load_letterhead(const std::filesystem::path& file);

}  // namespace tipwright::report
