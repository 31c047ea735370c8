// Files of the program: read whole with a cap, written whole or not at all.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::program {

inline constexpr std::size_t largest_input_bytes = 64u << 20;

// Fault: file_missing, file_unreadable, file_too_large.
Result<std::string> read_file(const std::filesystem::path& file,
                              std::size_t most_bytes = largest_input_bytes);

// By a temporary file in the same folder, flushed to the disk and renamed. Fault: file_unwritable, disk_full.
Outcome write_file(const std::filesystem::path& file, std::string_view bytes);

// Makes the folder and its parents. Fault: file_unwritable.
Outcome make_folder(const std::filesystem::path& folder);

}  // namespace tipwright::program
