#include "report/files/open_file.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>

namespace tipwright {

OpenFile::OpenFile(const std::filesystem::path& path, int flags, unsigned mode)
    : descriptor_(::open(path.c_str(), flags | O_CLOEXEC, mode)) {
    note(descriptor_ >= 0);
}

OpenFile::~OpenFile() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

void OpenFile::note(bool good) {
    if (!good && error_ == 0) error_ = errno;
}

std::size_t OpenFile::read(char* into, std::size_t most) {
    ssize_t got = 0;
    do got = ::read(descriptor_, into, most);
    while (got < 0 && errno == EINTR);
    note(got >= 0);
    return got < 0 ? 0 : static_cast<std::size_t>(got);
}

void OpenFile::write(std::string_view bytes) {
    while (error_ == 0 && !bytes.empty()) {
        const ssize_t put = ::write(descriptor_, bytes.data(), bytes.size());
        if (put < 0 && errno == EINTR) continue;
        note(put >= 0);
        if (put > 0) bytes.remove_prefix(static_cast<std::size_t>(put));
    }
}

void OpenFile::flush() {
    if (error_ == 0) note(::fsync(descriptor_) == 0);
}

void OpenFile::close() {
    if (descriptor_ >= 0) note(::close(descriptor_) == 0);
    descriptor_ = -1;
}

}  // namespace tipwright
