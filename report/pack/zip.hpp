// Zip archives of a pack (PKWARE's APPNOTE.TXT 6.3, sections 4.3 and 4.4, from memory): entries stored as
// they are, names in UTF-8, one fixed date, no extra fields. So the bytes follow from the files alone, and an
// archive is accepted only if writing its files again gives the same bytes: any changed byte is told.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/pack/pack.hpp"

namespace tipwright::report::pack {

// At most 65535 files and 4 GiB less one byte; more is a bug of the caller (std::length_error).
std::string zip(const std::vector<File>& files);

// Fault: damaged (not such an archive, or changed), file_too_large.
Result<std::vector<File>> unzip(std::string_view bytes, const std::string& name);

}  // namespace tipwright::report::pack
