#include "bench/journal/append_file.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <optional>
#include <utility>

#include "bench/journal/last_words.hpp"
#include "bench/links/link_lock.hpp"

namespace tipwright::bench {

namespace {

class PosixAppendFile final : public AppendFile {
public:
    PosixAppendFile(int descriptor, std::string name)
        : descriptor_(descriptor), name_(std::move(name)), last_words_(std::in_place, descriptor) {}
    PosixAppendFile(const PosixAppendFile&) = delete;
    PosixAppendFile& operator=(const PosixAppendFile&) = delete;
    ~PosixAppendFile() override {
        last_words_.reset();
        ::close(descriptor_);
    }

    std::string name() const override { return name_; }
    ssize_t write(std::string_view bytes) override {
        return ::write(descriptor_, bytes.data(), bytes.size());
    }
    int sync() override {
        if (::fdatasync(descriptor_) != 0) return -1;
        if (!is_gone()) return 0;
        errno = ESTALE;
        return -1;
    }
    int cut(std::uint64_t bytes) override {
        return ::ftruncate(descriptor_, static_cast<off_t>(bytes)) == 0 ? ::fsync(descriptor_) : -1;
    }

private:
    // Nobody will find what is written any more: the file was removed, or another has its name.
    bool is_gone() const {
        struct stat held {};
        struct stat named {};
        if (::fstat(descriptor_, &held) != 0) return false;
        if (held.st_nlink == 0) return true;
        if (::stat(name_.c_str(), &named) != 0) return errno == ENOENT || errno == ENOTDIR;
        return held.st_dev != named.st_dev || held.st_ino != named.st_ino;
    }

    int descriptor_;
    std::string name_;
    std::optional<LastWordsPlace> last_words_;
};

Fault open_fault(const std::filesystem::path& path, int error) {
    if (error == EEXIST) {
        return {FaultCode::file_unwritable, "the file exists already and is never written over",
                path.string(), "choose another folder, or resume the run"};
    }
    const FaultCode code =
        error == ENOSPC || error == EDQUOT ? FaultCode::disk_full : FaultCode::file_unwritable;
    return {code, std::string("cannot be opened for writing: ") + std::strerror(error), path.string(),
            "check the folder and its permissions"};
}

std::optional<Fault> hold(int descriptor, const std::filesystem::path& path) {
    if (::flock(descriptor, LOCK_EX | LOCK_NB) == 0) return std::nullopt;
    if (errno == EWOULDBLOCK) {
        return Fault{FaultCode::file_unwritable,
                     "another process is writing this journal: its run is going on", path.string(),
                     "wait for its end, or stop it there with Ctrl-C"};
    }
    if (errno == ENOLCK || errno == EOPNOTSUPP)
        return lock_failure(errno, path.string(), "another process is writing this journal", lock_policy());
    return open_fault(path, errno);
}

// A new file survives a power cut only when its folder was synced too. Failure is not worth a fault:
// some file systems do not offer it.
void sync_folder(const std::filesystem::path& path) {
    const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : ".";
    const int descriptor = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor < 0) return;
    ::fsync(descriptor);
    ::close(descriptor);
}

}  // namespace

Result<std::unique_ptr<AppendFile>> create_append_file(const std::filesystem::path& path) {
    const int descriptor = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_APPEND | O_CLOEXEC, 0644);
    if (descriptor < 0) return open_fault(path, errno);
    auto file = std::make_unique<PosixAppendFile>(descriptor, path.string());
    if (auto fault = hold(descriptor, path)) {
        // An empty one would stand in the way of the next attempt.
        ::unlink(path.c_str());
        return *fault;
    }
    sync_folder(path);
    return std::unique_ptr<AppendFile>(std::move(file));
}

Result<std::unique_ptr<AppendFile>> hold_append_file(const std::filesystem::path& path) {
    const int descriptor = ::open(path.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0) {
        if (errno != ENOENT) return open_fault(path, errno);
        return Fault{FaultCode::file_missing, "no such journal", path.string(), "check the folder"};
    }
    auto file = std::make_unique<PosixAppendFile>(descriptor, path.string());
    if (auto fault = hold(descriptor, path)) return *fault;
    return std::unique_ptr<AppendFile>(std::move(file));
}

}  // namespace tipwright::bench
