// A lock between programs by a file of its own beside what it guards: others with the same file wait for as
// long as this lives. The file stays.
#pragma once

#include <string>

#include "calib/base/fault.hpp"

namespace tipwright::seal {

class FileLock {
public:
    // Waits. Fault: as when a file cannot be written.
    static Result<FileLock> wait_for(const std::string& file);
    ~FileLock();
    FileLock(FileLock&& other) noexcept;
    FileLock& operator=(FileLock&&) = delete;

private:
    explicit FileLock(int descriptor) : descriptor_(descriptor) {}
    int descriptor_ = -1;
};

}  // namespace tipwright::seal
