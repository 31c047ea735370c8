#include "bench/page/live/journal_tail.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "bench/journal/line.hpp"

namespace tipwright::page {

namespace {

constexpr std::size_t block_bytes = 256u << 10;

ssize_t read_at(int descriptor, char* to, std::size_t count, std::uint64_t from) {
    ssize_t got = 0;
    do {
        got = ::pread(descriptor, to, count, static_cast<off_t>(from));
    } while (got < 0 && errno == EINTR);
    return got;
}

}  // namespace

JournalTail::~JournalTail() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

Outcome JournalTail::open() {
    descriptor_ = ::open(file_.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (descriptor_ < 0) {
        const bool missing = errno == ENOENT;
        return Fault{missing ? FaultCode::file_missing : FaultCode::file_unreadable,
                     std::string("the journal cannot be opened: ") + std::strerror(errno), file_.string(),
                     ""};
    }
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0 || !S_ISREG(status.st_mode))
        return Fault{FaultCode::file_unreadable, "the journal is not a regular file", file_.string(), ""};
    return Done{};
}

Result<bool> JournalTail::look(const bench::JournalVisitor& visit, std::size_t most_bytes) {
    if (descriptor_ < 0) {
        if (auto opened = open(); !opened) return opened.fault();
    }
    struct stat status {};
    if (::fstat(descriptor_, &status) != 0)
        return Fault{FaultCode::file_unreadable, std::strerror(errno), file_.string(), ""};
    const auto size = static_cast<std::uint64_t>(status.st_size);
    if (size < good_bytes_)
        return Fault{FaultCode::damaged, "the journal became shorter than its good entries", file_.string(),
                     "use a copy of it"};
    // Read anew: it may have been cut off since, and other entries written in its place.
    rest_.clear();
    bad_line_.clear();
    std::size_t done = 0;
    while (done < most_bytes) {
        const std::size_t had = rest_.size();
        rest_.resize(had + block_bytes);
        const ssize_t got = read_at(descriptor_, rest_.data() + had, block_bytes, good_bytes_ + had);
        rest_.resize(had + static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
        if (got < 0) return Fault{FaultCode::file_unreadable, std::strerror(errno), file_.string(), ""};
        if (got == 0) return false;
        done += static_cast<std::size_t>(got);
        if (auto taken = take_lines(visit); !taken) return taken.fault();
        if (rest_.size() > bench::journal_line_limit && bad_line_.empty())
            bad_line_ = "a line is longer than any entry";
        // A torn end holds no good entry, however long one waits for it.
        if (!bad_line_.empty()) return false;
    }
    return true;
}

Outcome JournalTail::take_lines(const bench::JournalVisitor& visit) {
    std::size_t start = 0;
    Outcome outcome = Done{};
    for (;;) {
        const std::size_t end = rest_.find('\n', start);
        if (end == std::string::npos) break;
        outcome = take(std::span(rest_).subspan(start, end - start), visit);
        if (!outcome || !bad_line_.empty()) break;
        start = end + 1;
    }
    good_bytes_ += start;
    rest_.erase(0, start);
    return outcome;
}

Outcome JournalTail::take(std::span<char> text, const bench::JournalVisitor& visit) {
    if (!headed_) {
        const std::string_view line(text.data(), text.size());
        if (line != bench::journal_first_line) {
            const bool other = line.starts_with("tipwright-journal ");
            return Fault{other ? FaultCode::unsupported_version : FaultCode::damaged,
                         other ? "the journal is of another version" : "this is not a journal",
                         file_.string() + ":1", "use the version of the program that wrote it"};
        }
        headed_ = true;
        return Done{};
    }
    if (const char* wrong = bench::parse_journal_line(text, entry_)) {
        bad_line_ = wrong;
        return Done{};
    }
    if (entry_.sequence != entries_ + 1)
        return Fault{FaultCode::damaged,
                     "entry " + std::to_string(entry_.sequence) + " stands where entry " +
                         std::to_string(entries_ + 1) + " belongs",
                     file_.string(), "use a copy, or calibrate again"};
    ++entries_;
    return visit(entry_);
}

}  // namespace tipwright::page
