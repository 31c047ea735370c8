#include "bench/links/link_lock.hpp"

#include <fcntl.h>
#include <netdb.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <map>
#include <optional>
#include <utility>

#include "bench/links/link_kinds.hpp"

namespace tipwright::bench {

namespace {

constexpr int attempts = 3;

std::filesystem::path folder_of(const LockPolicy& policy) {
    if (!policy.folder.empty()) return policy.folder;
    // Where it is there nobody may go elsewhere: a service with a /tmp of its own would lock for itself
    // alone.
    std::error_code ignored;
    return std::filesystem::is_directory("/run/lock", ignored) ? "/run/lock" : "/tmp";
}

// "127.0.0.1:5001" of "localhost:5001": one of the addresses that the name stands for, of version 4 where it
// has one, and the same for all its names; as it is where it stands for none.
std::string address_of(const std::string& host_and_port) {
    const std::size_t colon = host_and_port.rfind(':');
    if (colon == std::string::npos) return host_and_port;
    std::string host = host_and_port.substr(0, colon);
    if (host.size() > 2 && host.front() == '[' && host.back() == ']') host = host.substr(1, host.size() - 2);
    addrinfo wanted{};
    wanted.ai_socktype = SOCK_STREAM;
    addrinfo* found = nullptr;
    if (::getaddrinfo(host.c_str(), nullptr, &wanted, &found) != 0) return host_and_port;
    const auto is_4 = [](const addrinfo& one) { return one.ai_family == AF_INET; };
    bool any_4 = false;
    for (const addrinfo* one = found; one != nullptr; one = one->ai_next) any_4 = any_4 || is_4(*one);
    std::string out;
    for (const addrinfo* one = found; one != nullptr; one = one->ai_next) {
        if (any_4 && !is_4(*one)) continue;
        char text[NI_MAXHOST];
        if (::getnameinfo(one->ai_addr, one->ai_addrlen, text, sizeof text, nullptr, 0, NI_NUMERICHOST) != 0)
            continue;
        std::string address = text;
        constexpr std::string_view version_4_in_6 = "::ffff:";
        if (address.starts_with(version_4_in_6) && address.find('.') != std::string::npos)
            address.erase(0, version_4_in_6.size());
        // A loopback by any of its names is this machine, and so is no address at all.
        if (address == "::1" || address == "::" || address == "0.0.0.0" || address.starts_with("127."))
            address = "127.0.0.1";
        if (out.empty() || address < out) out = address;
    }
    ::freeaddrinfo(found);
    // "04001" is port 4001.
    std::string_view port = std::string_view(host_and_port).substr(colon + 1);
    while (port.size() > 1 && port.front() == '0') port.remove_prefix(1);
    return out.empty() ? host_and_port : out + ":" + std::string(port);
}

std::string name_of(const std::string& link) {
    std::string name = "tipwright-";
    for (const char c : device_of(link)) {
        const bool plain =
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.';
        name += plain ? c : '-';
    }
    return name + ".lock";
}

// Another user's file is opened for reading, which is enough for flock; made anew only where there is none,
// since the system refuses O_CREAT on others' files in sticky folders.
int open_lock(const std::string& path) {
    for (int attempt = 0; attempt < attempts; ++attempt) {
        // Nobody waits for the other end of a pipe that somebody put there.
        int descriptor = ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
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

// What this process holds: the lock's path, and the link as its holder named it. Links are opened and closed
// on one thread.
std::map<std::string, std::string>& held_here() {
    static std::map<std::string, std::string> held;
    return held;
}

}  // namespace

std::string device_of(const std::string& link) {
    std::string target = link.substr(std::min(link.size(), link.find(' ') + 1));
    const LinkKind* kind = link_kind_of(link);
    if (kind != nullptr && kind->target == LinkTarget::host_and_port) return address_of(target);
    std::error_code error;
    const auto real = std::filesystem::canonical(target, error);
    return error ? target : real.string();
}

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
    if (const auto own = held_here().find(path); own != held_here().end())
        return Fault{FaultCode::link_lost,
                     "is in use by this program already" +
                         (own->second == link ? "" : ", as " + in_quotes(own->second)),
                     link, "give each instrument, and each lane, a link of its own"};
    std::unique_ptr<LinkLock> lock(new LinkLock(path, open_lock(path)));
    // Whoever removed the file meanwhile left room for another one.
    for (int attempt = 0; lock->descriptor_ >= 0; ++attempt) {
        if (::flock(lock->descriptor_, LOCK_EX | LOCK_NB) != 0) break;
        if (lock->leads_to_held() || attempt == attempts) {
            held_here().emplace(path, link);
            lock->is_held_ = true;
            return lock;
        }
        ::close(lock->descriptor_);
        lock->use(open_lock(path));
    }
    if (const auto fault = lock_failure(errno, link, "is in use by another program", policy)) return *fault;
    return lock;
}

void LinkLock::use(int descriptor) {
    const int error = errno;
    descriptor_ = descriptor;
    struct stat held {};
    if (descriptor >= 0) static_cast<void>(::fstat(descriptor, &held));
    device_ = held.st_dev;
    inode_ = held.st_ino;
    errno = error;
}

// The path leads to the file that the descriptor holds.
bool LinkLock::leads_to_held() const {
    struct stat there {};
    return ::lstat(path_.c_str(), &there) == 0 && device_ == there.st_dev && inode_ == there.st_ino;
}

void LinkLock::renew_if_due(std::chrono::steady_clock::time_point now) {
    if (now - looked_ < link_lock_look) return;
    looked_ = now;
    static_cast<void>(renew());
}

bool LinkLock::renew() {
    if (!is_held_ || leads_to_held()) return true;
    const int anew = open_lock(path_);
    if (anew < 0) return errno != EWOULDBLOCK;
    if (::flock(anew, LOCK_EX | LOCK_NB) != 0) {
        const bool another = errno == EWOULDBLOCK;
        ::close(anew);
        return !another;
    }
    ::close(descriptor_);
    use(anew);
    return true;
}

LinkLock::~LinkLock() {
    if (descriptor_ >= 0) ::close(descriptor_);
    if (is_held_) held_here().erase(path_);
}

}  // namespace tipwright::bench
