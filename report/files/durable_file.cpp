#include "report/files/durable_file.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

#include "report/seal/encoding.hpp"

namespace tipwright::seal {
namespace {

std::string reason(int error) {
    return std::generic_category().message(error);
}

std::string folder_of(const std::string& path) {
    const std::size_t slash = path.rfind('/');
    if (slash == std::string::npos) return ".";
    return slash == 0 ? "/" : path.substr(0, slash);
}

bool write_all(int file, std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t put = ::write(file, bytes.data(), bytes.size());
        if (put < 0 && errno == EINTR) continue;
        if (put < 0) return false;
        bytes.remove_prefix(static_cast<std::size_t>(put));
    }
    return true;
}

}  // namespace

Fault read_fault(const std::string& path, int error) {
    if (error == ENOENT || error == ENOTDIR)
        return {FaultCode::file_missing, "no such file", path, "check the name"};
    return {FaultCode::file_unreadable, reason(error), path, ""};
}

Fault write_fault(const std::string& path, int error) {
    if (error == ENOSPC || error == EDQUOT)
        return {FaultCode::disk_full, "no room left on the disk", path, "make room and try again"};
    return {FaultCode::file_unwritable, reason(error), path, ""};
}

Outcome write_durably(const std::string& path, std::string_view bytes, unsigned mode) {
    std::string random(8, '\0');
    randombytes_buf(random.data(), random.size());
    const std::string temporary = path + ".new-" + to_hex(random);
    const int file = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
    if (file < 0) return write_fault(path, errno);
    // The mode given to open is narrowed by the umask; a secret must not be wider, a document not narrower.
    bool good = ::fchmod(file, mode) == 0 && write_all(file, bytes) && ::fsync(file) == 0;
    int error = good ? 0 : errno;
    if (::close(file) != 0 && good) {
        good = false;
        error = errno;
    }
    if (good && ::rename(temporary.c_str(), path.c_str()) != 0) {
        good = false;
        error = errno;
    }
    if (!good) {
        ::unlink(temporary.c_str());
        return write_fault(path, error);
    }
    return flush_folder(folder_of(path));
}

Result<std::string> read_whole(const std::string& path, std::size_t max_bytes) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) return read_fault(path, errno);
    std::string out;
    char piece[65536];
    for (;;) {
        const ssize_t got = ::read(file, piece, sizeof piece);
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) {
            const int error = errno;
            ::close(file);
            return read_fault(path, error);
        }
        if (got == 0) break;
        out.append(piece, static_cast<std::size_t>(got));
        if (out.size() > max_bytes) {
            ::close(file);
            return Fault{FaultCode::file_too_large, "larger than " + std::to_string(max_bytes) + " bytes",
                         path, ""};
        }
    }
    ::close(file);
    return out;
}

Outcome make_folder(const std::string& path, unsigned mode) {
    struct stat found {};
    if (::stat(path.c_str(), &found) == 0) {
        if (S_ISDIR(found.st_mode)) return Done{};
        return Fault{FaultCode::file_unwritable, "is a file, a folder is needed", path, ""};
    }
    const std::string above = folder_of(path);
    if (above != path)
        if (Outcome made = make_folder(above); !made) return made;
    if (::mkdir(path.c_str(), mode) != 0 && errno != EEXIST) return write_fault(path, errno);
    return flush_folder(above);
}

Outcome flush_folder(const std::string& path) {
    const int folder = ::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder < 0) return write_fault(path, errno);
    const bool good = ::fsync(folder) == 0;
    const int error = errno;
    ::close(folder);
    // Some network file systems cannot flush a folder; the rename is all they offer.
    if (!good && error != EINVAL && error != ENOTSUP) return write_fault(path, error);
    return Done{};
}

}  // namespace tipwright::seal
