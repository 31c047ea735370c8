// What kind of file this is, told by its first bytes, not by its name.
#pragma once

#include <filesystem>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::program {

enum class FileKind { journal, record, certificate, xml, zip, seal, seal_code, table, other };

// Fault: file_missing, file_unreadable.
Result<FileKind> kind_of(const std::filesystem::path& file);
// The same by the first bytes; 512 are enough.
FileKind kind_of_bytes(std::string_view head);

}  // namespace tipwright::program
