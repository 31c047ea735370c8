#include "report/files/open_input.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>

#include "report/files/files.hpp"

namespace tipwright {

namespace {

// Or is nothing, by the name that everybody gives to it: no settings, for one.
bool was_handed_over(const std::string& name) {
    return name == "/dev/null" || name == "/dev/stdin" || name.starts_with("/dev/fd/") ||
           name.starts_with("/proc/self/fd/");
}

}  // namespace

Result<int> open_input(const std::filesystem::path& file, const std::string& remedy) {
    const int descriptor = ::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    // A socket, or a device that nothing drives.
    const bool no_file = descriptor < 0 && (errno == ENXIO || errno == ENODEV);
    if (descriptor < 0 && !no_file) return read_fault(file, errno, remedy);
    struct stat found {};
    const bool known = descriptor >= 0 && ::fstat(descriptor, &found) == 0;
    if (known && (S_ISREG(found.st_mode) || (was_handed_over(file.string()) && !S_ISDIR(found.st_mode)))) {
        // Whoever reads waits for the next bytes, as from any file.
        ::fcntl(descriptor, F_SETFL, ::fcntl(descriptor, F_GETFL) & ~O_NONBLOCK);
        return descriptor;
    }
    const bool folder = known && S_ISDIR(found.st_mode);
    if (descriptor >= 0) ::close(descriptor);
    if (folder) return read_fault(file, EISDIR, remedy);
    return Fault{FaultCode::file_unreadable, "this is a pipe, a socket or a device, and no file",
                 file.string(), "name a file"};
}

}  // namespace tipwright
