#include "report/seal/file_lock.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <utility>

#include "report/files/files.hpp"

namespace tipwright::seal {

Result<FileLock> FileLock::wait_for(const std::string& file) {
    const int descriptor = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (descriptor < 0) return write_fault(file, errno);
    FileLock out(descriptor);
    while (::flock(descriptor, LOCK_EX) != 0)
        if (errno != EINTR) return write_fault(file, errno);
    return out;
}

std::optional<FileLock> FileLock::if_free(const std::string& file) {
    const int descriptor = ::open(file.c_str(), O_RDWR | O_CLOEXEC);
    if (descriptor < 0) return std::nullopt;
    FileLock out(descriptor);
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0 || !out.stands()) return std::nullopt;
    return out;
}

bool FileLock::stands() const {
    struct stat found {};
    return ::fstat(descriptor_, &found) == 0 && found.st_nlink > 0;
}

FileLock::FileLock(FileLock&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}

FileLock::~FileLock() {
    if (descriptor_ >= 0) ::close(descriptor_);  // and with it the lock
}

}  // namespace tipwright::seal
