#include "bench/links/link_lock.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <optional>

namespace tipwright::bench {

namespace {

std::filesystem::path folder_of(const LockPolicy& policy) {
    if (!policy.folder.empty()) return policy.folder;
    return ::access("/run/lock", W_OK | X_OK) == 0 ? "/run/lock" : "/tmp";
}

// The same device under another name is the same device.
std::string name_of(const std::string& link) {
    std::string target = link;
    const std::size_t slash = link.find('/');
    if (slash != std::string::npos) {
        std::error_code error;
        const auto real = std::filesystem::canonical(link.substr(slash), error);
        target = error ? link.substr(slash) : real.string();
    }
    std::string name = "tipwright-";
    for (const char c : target) {
        const bool plain =
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.';
        name += plain ? c : '-';
    }
    return name + ".lock";
}

// Another user's file is opened for reading, which is enough for flock; made anew only where there is none,
// since the system refuses O_CREAT on others' files in sticky folders.
int open_lock(const std::string& path) {
    for (int attempt = 0; attempt < 3; ++attempt) {
        int descriptor = ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
        if (descriptor >= 0 || errno != ENOENT) return descriptor;
        descriptor = ::open(path.c_str(), O_RDONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0644);
        if (descriptor >= 0) {
            // Whatever the umask says, the next user must be able to open it.
            static_cast<void>(::fchmod(descriptor, 0644));
            return descriptor;
        }
        if (errno != EEXIST) return -1;
    }
    return -1;
}

}  // namespace

LockPolicy& lock_policy() {
    static LockPolicy policy;
    return policy;
}

std::optional<Fault> lock_failure(int error, const std::string& where, const std::string& held_by_another,
                                  const LockPolicy& policy) {
    if (error == EWOULDBLOCK)
        return Fault{FaultCode::link_lost, held_by_another, where,
                     "wait for its end, or stop it there with Ctrl-C"};
    if (policy.without_locks) return std::nullopt;
    return Fault{FaultCode::not_permitted,
                 std::string("it cannot be locked against other programs: ") + std::strerror(error), where,
                 "see to it that nothing else uses the bench, then say --without-locks"};
}

Result<std::unique_ptr<LinkLock>> LinkLock::take(const std::string& link) {
    const LockPolicy& policy = lock_policy();
    const std::string path = (folder_of(policy) / name_of(link)).string();
    std::unique_ptr<LinkLock> lock(new LinkLock(open_lock(path)));
    if (lock->descriptor_ >= 0 && ::flock(lock->descriptor_, LOCK_EX | LOCK_NB) == 0) return lock;
    if (const auto fault = lock_failure(errno, link, "is in use by another program", policy)) return *fault;
    return lock;
}

LinkLock::~LinkLock() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

}  // namespace tipwright::bench
