// Link lock: one program at a time on an instrument, also between users. A file of the system's lock folder,
// named after the link, is held with flock(2) for as long as the link is in use; the operating system lets go
// of it however the program ends. Serial ports and pseudo-terminals are locked themselves as well.
#pragma once

#include <sys/types.h>

#include <chrono>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Where locks are to be had: a folder any user may write to and where nobody removes another's files
// (sticky). For the whole process; without_locks goes on where the file system offers none. At the start,
// before any link.
struct LockPolicy {
    std::filesystem::path folder;  // empty: /run/lock, else /tmp
    bool without_locks = false;
};
LockPolicy& lock_policy();

// What a failed flock means: nullopt when work may continue without it. Faults: link_lost held by another
// program, not_permitted where the file system has no locks.
std::optional<Fault> lock_failure(int error, const std::string& where, const std::string& held_by_another,
                                  const LockPolicy& policy);

// What a link's name leads to: the same device or address under any of its names. May ask the resolver.
std::string device_of(const std::string& link);

inline constexpr std::chrono::milliseconds link_lock_look(250);

class LinkLock {
public:
    // `link` as a bench description names it.
    static Result<std::unique_ptr<LinkLock>> take(const std::string& link);
    // Looks whether the lock's file is there still, and makes and holds it anew where somebody removed it.
    // False: another program holds the link by now.
    bool renew();
    // The same for whoever comes by very often: looks only where the last look is link_lock_look ago or
    // more. So long another program may find a link free whose lock's file was removed.
    void renew_if_due(std::chrono::steady_clock::time_point now);
    ~LinkLock();
    LinkLock(const LinkLock&) = delete;
    LinkLock& operator=(const LinkLock&) = delete;

private:
    LinkLock(std::string path, int descriptor) : path_(std::move(path)) { use(descriptor); }
    void use(int descriptor);
    bool leads_to_held() const;

    std::string path_;
    int descriptor_ = -1;
    // Of the descriptor's file: while it is open no other has them.
    dev_t device_{};
    ino_t inode_{};
    std::chrono::steady_clock::time_point looked_{};
    bool is_held_ = false;
};

}  // namespace tipwright::bench
