// The files of the program, but for the journal: read whole with a cap on the size; written whole or not at
// all, under another name in the same folder, flushed to the disk, renamed, and the folder flushed.
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright {

inline constexpr std::size_t largest_input_bytes = std::size_t{64} << 20;

// Fault: file_missing (with this remedy), file_unreadable, file_too_large.
Result<std::string> read_file(const std::filesystem::path& file, std::size_t max_bytes = largest_input_bytes,
                              const std::string& remedy = "check the name");
// Fault: file_unwritable, disk_full. `mode` as for chmod.
Outcome write_file(const std::filesystem::path& file, std::string_view bytes, unsigned mode = 0644);
// Makes the folder and those above it, and flushes each new name. Fault: file_unwritable, disk_full.
Outcome make_folder(const std::filesystem::path& folder, unsigned mode = 0755);
// Flushes a folder's names to the disk.
Outcome flush_folder(const std::filesystem::path& folder);

// Faults for an errno met while reading or writing `file`.
Fault read_fault(const std::filesystem::path& file, int error, const std::string& remedy = "check the name");
Fault write_fault(const std::filesystem::path& file, int error);

}  // namespace tipwright
