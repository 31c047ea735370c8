#include "report/seal/file_lock.hpp"

#include <fcntl.h>
#include <sys/file.h>
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

FileLock::FileLock(FileLock&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}

FileLock::~FileLock() {
    if (descriptor_ >= 0) ::close(descriptor_);  // and with it the lock
}

}  // namespace tipwright::seal
