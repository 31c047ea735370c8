// A whole file in memory, with a cap on its size.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

#include "calib/base/fault.hpp"

namespace tipwright::report {

// Faults: file_missing (with the remedy given), file_too_large, file_unreadable.
Result<std::string> read_file(const std::filesystem::path& file, std::size_t max_bytes,
                              const std::string& remedy);

}  // namespace tipwright::report
