// Who writes a journal: the process that holds its lock (flock), as the kernel lists it in /proc/locks. The
// lock is never asked for, so nobody who looks stands in a run's way. Where the kernel does not list the
// holder (another machine's file system), nobody is found.
#pragma once

#include <sys/types.h>

#include <filesystem>
#include <map>
#include <optional>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct FileId {
    unsigned long device = 0;
    unsigned long inode = 0;
    auto operator<=>(const FileId&) const = default;  // NOLINT(modernize-use-nullptr)
};
std::optional<FileId> file_id(const std::filesystem::path& file);

// Holders of all locked files, from the text of /proc/locks.
std::map<FileId, pid_t> holders_in(std::string_view proc_locks);
std::map<FileId, pid_t> holders_now();
bool is_held(const std::filesystem::path& file);

// The signal that Ctrl-C gives, to the process that holds that journal now, whoever started it. Faults:
// inconsistent (nobody does: the run has ended), not_permitted (another user's).
Outcome interrupt_holder(const std::filesystem::path& journal);

}  // namespace tipwright::bench
