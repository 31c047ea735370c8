#include "report/files/memory_file.hpp"

#include <sys/mman.h>
#include <unistd.h>

namespace tipwright {

MemoryFile::MemoryFile(std::string_view bytes)
    : descriptor_(bytes.empty() ? -1 : ::memfd_create("bytes", MFD_CLOEXEC)) {
    ok_ = descriptor_ >= 0 &&
          ::write(descriptor_, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()) &&
          ::access(path().c_str(), R_OK) == 0;
}

MemoryFile::~MemoryFile() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

std::string MemoryFile::path() const {
    return "/proc/self/fd/" + std::to_string(descriptor_);
}

}  // namespace tipwright
