// Append file: the file under a journal, so that a full or failing disk can be tried in tests.
// Calls are those of POSIX: -1 with errno, or the count written, which may be short.
#pragma once

#include <sys/types.h>

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

class AppendFile {
public:
    virtual ~AppendFile() = default;
    virtual std::string name() const = 0;
    virtual ssize_t write(std::string_view bytes) = 0;
    // Returns once what was written is on the disk (fdatasync).
    virtual int sync() = 0;
    // Cuts the file to that length.
    virtual int cut(std::uint64_t bytes) = 0;
};

// The file must not exist yet: a journal is never written over. Its folder entry is made durable too.
// Both hold the file: while one of them is open, no other process (nor this one again) gets it; the
// operating system lets go of it when the process ends, however it ends.
Result<std::unique_ptr<AppendFile>> create_append_file(const std::filesystem::path& path);
// An existing file, as it is, to be appended to.
Result<std::unique_ptr<AppendFile>> hold_append_file(const std::filesystem::path& path);

}  // namespace tipwright::bench
