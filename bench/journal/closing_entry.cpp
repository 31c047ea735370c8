#include "bench/journal/closing_entry.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdint>

#include "bench/journal/line.hpp"

namespace tipwright::bench {

namespace {

// Holds nearly every closing entry; one that is longer is looked for in as much as a line may have.
constexpr std::size_t usual_bytes = 4096;

// Of the file; less where it cannot be read.
std::string last_bytes(int descriptor, std::uint64_t size, std::size_t count) {
    std::string out(static_cast<std::size_t>(std::min<std::uint64_t>(size, count)), '\0');
    ssize_t got = 0;
    do {
        got = ::pread(descriptor, out.data(), out.size(), static_cast<off_t>(size - out.size()));
    } while (got < 0 && errno == EINTR);
    out.resize(static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
    return out;
}

// Without its newline; empty: the text ends in none.
std::string last_line(int descriptor, std::uint64_t size) {
    for (const std::size_t count : {usual_bytes, journal_line_limit + 1}) {
        std::string text = last_bytes(descriptor, size, count);
        if (!text.ends_with('\n')) return "";
        text.pop_back();
        const std::size_t start = text.rfind('\n');
        if (start != std::string::npos) return text.substr(start + 1);
    }
    return "";
}

}  // namespace

std::optional<ClosingEntry> closing_entry(const std::filesystem::path& journal) {
    const int descriptor = ::open(journal.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (descriptor < 0) return std::nullopt;
    struct stat status {};
    const bool readable = ::fstat(descriptor, &status) == 0 && S_ISREG(status.st_mode);
    std::string line = readable ? last_line(descriptor, static_cast<std::uint64_t>(status.st_size)) : "";
    ::close(descriptor);
    JournalEntry entry;
    if (parse_journal_line(line, entry) != nullptr || entry.kind != "close") return std::nullopt;
    return ClosingEntry{entry.field("complete") == "true", std::string(entry.field("reason"))};
}

}  // namespace tipwright::bench
