#include "report/register/unfinished.hpp"

#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <utility>

#include "report/files/files.hpp"
#include "report/register/database.hpp"

namespace tipwright::report {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view mark = ".new";
constexpr std::string_view lock_mark = ".new.lock";

std::string lock_of(const std::string& unfinished) {
    return unfinished + ".lock";
}

void remove(const std::string& unfinished) {
    std::error_code ignored;
    fs::remove_all(unfinished, ignored);
    fs::remove(unfinished + "-journal", ignored);  // of a database
}

// Before the lock is given up: who waits for it finds that its file is gone.
void remove_locked(const std::string& unfinished) {
    remove(unfinished);
    ::unlink(lock_of(unfinished).c_str());
}

std::optional<seal::FileLock> claimed(const std::string& file) {
    for (;;) {
        Result<seal::FileLock> lock = seal::FileLock::wait_for(file);
        if (!lock) return std::nullopt;
        if (lock->stands()) return std::move(*lock);
    }
}

void sweep(const fs::path& folder, bool (*is_one)(std::string_view name)) {
    std::error_code error;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
        std::string name = it->path().filename().string();
        if (name.ends_with(lock_mark))
            name.erase(name.size() - lock_mark.size());
        else if (name.ends_with(mark))
            name.erase(name.size() - mark.size());
        else
            continue;
        if (!is_one(name)) continue;
        const std::string unfinished = (folder / name).string() + std::string(mark);
        const auto lock = seal::FileLock::if_free(lock_of(unfinished));
        // Programs that took no lock left none either.
        if (lock || ::access(lock_of(unfinished).c_str(), F_OK) != 0) remove_locked(unfinished);
    }
}

}  // namespace

Unfinished::Unfinished(std::string whole, bool (*is_one)(std::string_view name))
    : whole_(std::move(whole)), path_(whole_ + std::string(mark)), lock_(claimed(lock_of(path_))) {
    remove(path_);
    sweep(fs::path(whole_).parent_path(), is_one);
}

Unfinished::~Unfinished() {
    remove_locked(path_);
}

void Unfinished::finish() {
    if (::rename(path_.c_str(), whole_.c_str()) != 0) throw Stop{write_fault(whole_, errno)};
    must(flush_folder(fs::path(whole_).parent_path()));
}

}  // namespace tipwright::report
