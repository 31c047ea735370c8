// A lock between programs by a file of its own beside what it guards: others with the same file wait for as
// long as this lives. The file stays, unless who holds it removes it.
#pragma once

#include <optional>
#include <string>

#include "calib/base/fault.hpp"

namespace tipwright::seal {

class FileLock {
public:
    // Waits. Fault: as when a file cannot be written.
    static Result<FileLock> wait_for(const std::string& file);
    // Without waiting; nothing where another has it, where there is no such file or no locks are known.
    static std::optional<FileLock> if_free(const std::string& file);
    // False once the file was removed: who comes now locks another one of its name.
    bool stands() const;
    ~FileLock();
    FileLock(FileLock&& other) noexcept;
    FileLock& operator=(FileLock&&) = delete;

private:
    explicit FileLock(int descriptor) : descriptor_(descriptor) {}
    int descriptor_ = -1;
};

}  // namespace tipwright::seal
