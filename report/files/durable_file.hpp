// Files that are there whole or not at all: written under another name in the same folder, flushed to the
// disk, renamed, and the folder flushed. Reading takes a cap on the size.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::seal {

// Fault: file_unwritable, disk_full. `mode` as for chmod.
Outcome write_durably(const std::string& path, std::string_view bytes, unsigned mode = 0644);
// Fault: file_missing, file_unreadable, file_too_large.
Result<std::string> read_whole(const std::string& path, std::size_t max_bytes);
// Makes the folder and those above it, and flushes each new name. Fault: file_unwritable, disk_full.
Outcome make_folder(const std::string& path, unsigned mode = 0755);
// Flushes a folder's names to the disk.
Outcome flush_folder(const std::string& path);

// Faults for an errno met while reading or writing `path`.
Fault read_fault(const std::string& path, int error);
Fault write_fault(const std::string& path, int error);

}  // namespace tipwright::seal
