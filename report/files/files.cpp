#include "report/files/files.hpp"

#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <vector>

#include "report/files/open_file.hpp"
#include "report/files/open_input.hpp"

namespace tipwright {
namespace {

namespace fs = std::filesystem;

std::string reason(int error) {
    return std::generic_category().message(error);
}

fs::path folder_of(const fs::path& path) {
    const fs::path folder = path.parent_path();
    return folder.empty() ? fs::path(".") : folder;
}

std::string size_words(std::size_t bytes) {
    constexpr std::size_t mib = std::size_t{1} << 20;
    return bytes >= mib && bytes % mib == 0 ? std::to_string(bytes / mib) + " MiB"
                                            : std::to_string(bytes) + " bytes";
}

}  // namespace

Fault read_fault(const fs::path& file, int error, const std::string& remedy) {
    if (error == ENOENT || error == ENOTDIR)
        return {FaultCode::file_missing, "no such file", file.string(), remedy};
    if (error == EISDIR)
        return {FaultCode::file_unreadable, "this is a folder", file.string(), "name a file in it"};
    return {FaultCode::file_unreadable, "cannot be read: " + reason(error), file.string(),
            "check its permissions"};
}

Fault write_fault(const fs::path& file, int error) {
    if (error == ENOSPC || error == EDQUOT)
        return {FaultCode::disk_full, "no room left on the disk", file.string(), "make room and try again"};
    if (error == EFBIG)
        return {FaultCode::file_unwritable, "cannot be written: " + reason(error), file.string(),
                "raise the limit of a file's size (ulimit -f) and try again"};
    return {FaultCode::file_unwritable, "cannot be written: " + reason(error), file.string(),
            "check the folder and its permissions"};
}

Result<std::string> read_file(const fs::path& file, std::size_t max_bytes, const std::string& remedy) {
    const Fault too_large{FaultCode::file_too_large, "larger than " + size_words(max_bytes), file.string(),
                          "this is no file the program writes or expects"};
    const Result<int> opened = open_input(file, remedy);
    if (!opened) return opened.fault();
    OpenFile in(*opened);
    std::string out;
    struct stat found {};
    if (::fstat(in.descriptor(), &found) == 0 && S_ISREG(found.st_mode) && found.st_size > 0) {
        if (static_cast<std::size_t>(found.st_size) > max_bytes) return too_large;
        out.reserve(static_cast<std::size_t>(found.st_size));
    }
    std::vector<char> piece(65536);
    while (const std::size_t got = in.read(piece.data(), piece.size())) {
        out.append(piece.data(), got);
        if (out.size() > max_bytes) return too_large;
    }
    if (in.error() != 0) return read_fault(file, in.error(), remedy);
    return out;
}

Outcome write_file(const fs::path& file, std::string_view bytes, unsigned mode) {
    const fs::path temporary = file.string() + ".new-" + std::to_string(randombytes_random());
    OpenFile out(temporary, O_WRONLY | O_CREAT | O_EXCL, mode);
    if (out.error() != 0) return write_fault(file, out.error());
    // The mode given to open is narrowed by the umask; a secret must not be wider, a document not narrower.
    out.note(::fchmod(out.descriptor(), mode) == 0);
    out.write(bytes);
    out.flush();
    out.close();
    if (out.error() == 0) out.note(::rename(temporary.c_str(), file.c_str()) == 0);
    if (out.error() != 0) {
        ::unlink(temporary.c_str());
        return write_fault(file, out.error());
    }
    return flush_folder(folder_of(file));
}

Outcome make_folder(const fs::path& folder, unsigned mode) {
    std::error_code error;
    const fs::file_status found = fs::status(folder, error);
    if (fs::is_directory(found)) return Done{};
    if (fs::exists(found))
        return Fault{FaultCode::file_unwritable, "is a file, a folder is needed", folder.string(),
                     "name another folder"};
    const fs::path above = folder_of(folder);
    if (above != folder)
        if (Outcome made = make_folder(above); !made) return made;
    if (::mkdir(folder.c_str(), mode) != 0 && errno != EEXIST) return write_fault(folder, errno);
    return flush_folder(above);
}

Outcome flush_folder(const fs::path& folder) {
    OpenFile open(folder, O_RDONLY | O_DIRECTORY);
    open.flush();
    // Some network file systems cannot flush a folder; the rename is all they offer.
    if (open.error() != 0 && open.error() != EINVAL && open.error() != ENOTSUP)
        return write_fault(folder, open.error());
    return Done{};
}

}  // namespace tipwright
