#include "bench/journal/holder.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>
#include <sstream>

namespace tipwright::bench {

std::optional<FileId> file_id(const std::filesystem::path& file) {
    struct stat status {};
    if (::stat(file.c_str(), &status) != 0) return std::nullopt;
    return FileId{static_cast<unsigned long>(status.st_dev), status.st_ino};
}

std::map<FileId, pid_t> holders_in(std::string_view proc_locks) {
    std::map<FileId, pid_t> out;
    std::istringstream lines{std::string(proc_locks)};
    for (std::string line; std::getline(lines, line);) {
        // "1: FLOCK  ADVISORY  WRITE 15607 fe:00:10952843 0 EOF"; one that only waits has "->" after the
        // number.
        std::istringstream words(line);
        std::string number, kind, advisory, access, place;
        long pid = 0;
        if (!(words >> number >> kind >> advisory >> access >> pid >> place)) continue;
        if (kind != "FLOCK" || access != "WRITE" || pid <= 0) continue;
        unsigned major_part = 0;
        unsigned minor_part = 0;
        unsigned long inode = 0;
        if (std::sscanf(place.c_str(), "%x:%x:%lu", &major_part, &minor_part, &inode) != 3) continue;
        out[{static_cast<unsigned long>(makedev(major_part, minor_part)), inode}] = static_cast<pid_t>(pid);
    }
    return out;
}

std::map<FileId, pid_t> holders_now() {
    std::string text;
    const int descriptor = ::open("/proc/locks", O_RDONLY | O_CLOEXEC);
    if (descriptor < 0) return {};
    char block[4096];
    for (ssize_t got = 0; (got = ::read(descriptor, block, sizeof block)) > 0;)
        text.append(block, static_cast<std::size_t>(got));
    ::close(descriptor);
    return holders_in(text);
}

bool is_held(const std::filesystem::path& file) {
    const auto id = file_id(file);
    return id && holders_now().contains(*id);
}

Outcome interrupt_holder(const std::filesystem::path& journal) {
    const Fault ended{FaultCode::inconsistent, "no program writes this run: it has ended", journal.string(),
                      "look at the pump: if it turns, pull its plug"};
    const auto id = file_id(journal);
    if (!id) return ended;
    const auto holders = holders_now();
    const auto found = holders.find(*id);
    if (found == holders.end()) return ended;
    // The number of a process may pass to another: held by this descriptor it cannot, and then the lock is
    // looked for once more.
    const int process = static_cast<int>(::syscall(SYS_pidfd_open, found->second, 0));
    if (process < 0) return ended;
    const auto again = holders_now();
    const auto still = again.find(*id);
    Outcome outcome = Done{};
    if (still == again.end() || still->second != found->second)
        outcome = ended;
    else if (::syscall(SYS_pidfd_send_signal, process, SIGINT, nullptr, 0) != 0)
        outcome =
            errno == EPERM
                ? Outcome(Fault{FaultCode::not_permitted, "the run belongs to another user of this machine",
                                journal.string(), "stop it with Ctrl-C where it was started"})
                : Outcome(ended);
    ::close(process);
    return outcome;
}

}  // namespace tipwright::bench
