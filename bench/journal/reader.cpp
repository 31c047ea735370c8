#include "bench/journal/reader.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/journal/line.hpp"
#include "calib/base/format_version.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t block_size = 256u << 10;
static_assert(block_size > 2 * journal_line_limit);

class Descriptor {
public:
    explicit Descriptor(int descriptor) : descriptor_(descriptor) {}
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor() {
        if (descriptor_ >= 0) ::close(descriptor_);
    }
    int get() const { return descriptor_; }

private:
    int descriptor_;
};

// Lines of a file, one block in memory at a time. A line longer than the limit comes in pieces of it,
// none of which can be a good entry.
class Lines {
public:
    explicit Lines(int descriptor) : descriptor_(descriptor), buffer_(block_size) {}

    struct Line {
        std::span<char> text;  // without the newline
        bool ended = false;    // had a newline
    };

    std::optional<Line> next() {
        while (true) {
            char* begin = buffer_.data() + begin_;
            const std::size_t length = end_ - begin_;
            const std::size_t looked = std::min(length, journal_line_limit);
            const void* newline =
                looked > scanned_ ? std::memchr(begin + scanned_, '\n', looked - scanned_) : nullptr;
            if (newline) {
                const auto count = static_cast<std::size_t>(static_cast<const char*>(newline) - begin);
                return take(count, count + 1, true);
            }
            scanned_ = looked;
            if (length >= journal_line_limit) return take(journal_line_limit, journal_line_limit, false);
            if (at_end_) {
                if (length == 0) return std::nullopt;
                return take(length, length, false);
            }
            refill();
        }
    }

    int error() const { return error_; }

private:
    Line take(std::size_t text_length, std::size_t whole_length, bool ended) {
        const Line line{{buffer_.data() + begin_, text_length}, ended};
        begin_ += whole_length;
        scanned_ = 0;
        return line;
    }

    void refill() {
        std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
        end_ -= begin_;
        begin_ = 0;
        ssize_t count = 0;
        do {
            count = ::read(descriptor_, buffer_.data() + end_, buffer_.size() - end_);
        } while (count < 0 && errno == EINTR);
        if (count < 0) error_ = errno;
        if (count <= 0) {
            at_end_ = true;
        } else {
            end_ += static_cast<std::size_t>(count);
        }
    }

    int descriptor_;
    std::vector<char> buffer_;
    std::size_t begin_ = 0;
    std::size_t end_ = 0;
    std::size_t scanned_ = 0;  // from begin_: known to hold no newline
    bool at_end_ = false;
    int error_ = 0;
};

Fault damaged(const std::string& name, std::uint64_t line, std::string what) {
    return {FaultCode::damaged, std::move(what), name + ":" + std::to_string(line),
            "the journal was changed or the disk is failing: use a copy, or calibrate again"};
}

Result<int> open_checked(const std::filesystem::path& path, const JournalLimits& limits) {
    // A pipe under this name must not be waited for.
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0) {
        const bool missing = errno == ENOENT;
        return Fault{missing ? FaultCode::file_missing : FaultCode::file_unreadable,
                     std::string("the journal cannot be opened: ") + std::strerror(errno), path.string(), ""};
    }
    struct stat status {};
    if (::fstat(descriptor, &status) != 0 || !S_ISREG(status.st_mode)) {
        ::close(descriptor);
        return Fault{FaultCode::file_unreadable, "the journal is not a regular file", path.string(), ""};
    }
    if (static_cast<std::uint64_t>(status.st_size) > limits.file_bytes) {
        ::close(descriptor);
        return Fault{FaultCode::file_too_large,
                     "the journal has " + std::to_string(status.st_size) + " bytes, more than " +
                         std::to_string(limits.file_bytes),
                     path.string(), ""};
    }
    return descriptor;
}

std::optional<Fault> check_first_line(const std::optional<Lines::Line>& line, const std::string& name) {
    const std::string_view text =
        line && line->ended ? std::string_view(line->text.data(), line->text.size()) : std::string_view();
    if (text == journal_first_line) return std::nullopt;
    constexpr std::string_view format_name = "tipwright-journal ";
    if (text.starts_with(format_name)) {
        const auto version =
            readable_version(text.substr(format_name.size()).substr(0, 20), {1, 0}, "journal", name + ":1");
        if (!version) return version.fault();
        return std::nullopt;
    }
    return Fault{FaultCode::damaged, "this is not a journal: its first line is not \"tipwright-journal 1.0\"",
                 name + ":1", "give a journal written by this program"};
}

}  // namespace

Result<JournalSummary> read_journal(const std::filesystem::path& path, const JournalVisitor& visit,
                                    const JournalLimits& limits) {
    const std::string name = path.string();
    const Result<int> opened = open_checked(path, limits);
    if (!opened) return opened.fault();
    const Descriptor descriptor(*opened);
    Lines lines(descriptor.get());
    if (auto fault = check_first_line(lines.next(), name)) return *fault;

    JournalSummary summary;
    summary.kept_bytes = journal_first_line.size() + 1;
    JournalEntry entry;
    std::uint64_t line_number = 1;
    std::uint64_t bad_line = 0;
    std::string bad_reason;
    while (const auto line = lines.next()) {
        ++line_number;
        const char* wrong = line->ended ? parse_journal_line(line->text, entry) : "the line is cut short";
        if (wrong) {
            if (bad_line == 0) {
                bad_line = line_number;
                bad_reason = wrong;
            }
            summary.torn_bytes += line->text.size() + (line->ended ? 1 : 0);
            continue;
        }
        if (bad_line != 0) return damaged(name, bad_line, bad_reason);
        if (entry.sequence != summary.entries + 1) {
            return damaged(name, line_number,
                           "entry " + std::to_string(entry.sequence) + " stands where entry " +
                               std::to_string(summary.entries + 1) + " belongs");
        }
        summary.entries = entry.sequence;
        summary.kept_bytes += line->text.size() + 1;
        summary.last_time_s = entry.time_s;
        summary.closed = entry.kind == "close";
        if (Outcome visited = visit(entry); !visited) return visited.fault();
    }
    if (lines.error() != 0) {
        return Fault{FaultCode::file_unreadable,
                     std::string("reading failed: ") + std::strerror(lines.error()),
                     name + ":" + std::to_string(line_number + 1), ""};
    }
    return summary;
}

}  // namespace tipwright::bench
