// What kind of file this is, told by its first bytes, not by its name.
#pragma once

#include <filesystem>

#include "calib/fault.hpp"

namespace tipwright::program {

enum class FileKind { journal, record, certificate, other };

// Fault: file_missing, file_unreadable.
Result<FileKind> kind_of(const std::filesystem::path& file);

}  // namespace tipwright::program
