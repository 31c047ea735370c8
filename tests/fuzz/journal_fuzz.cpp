// Journal: each line as it is and with a right checksum put on, one by one; then the whole as a file, the
// lines numbered and checked anew when the first byte is odd. What is read can be written again and reads the
// same.
#include <sys/mman.h>
#include <unistd.h>

#include "bench/journal/line.hpp"
#include "bench/journal/reader.hpp"
#include "tests/fuzz/fuzz.hpp"

using namespace tipwright;

namespace {

std::string checked(std::string_view body) {
    char tail[16];
    std::snprintf(tail, sizeof tail, " *%08x", bench::journal_checksum(body));
    return std::string(body) + tail;
}

void check_line(std::string line) {
    bench::JournalEntry entry;
    if (bench::parse_journal_line(line, entry) != nullptr) return;
    for (const auto& [name, value] : entry.fields) {
        std::string again;
        bench::append_journal_line(again, entry.sequence, entry.time_s, entry.kind, {{name, value}});
        again.pop_back();
        bench::JournalEntry back;
        fuzz::must(bench::parse_journal_line(again, back) == nullptr, "what was written can be read");
        fuzz::must(
            back.sequence == entry.sequence && back.time_s == entry.time_s && back.field(name) == value,
            "and is the same");
    }
}

void check_file(std::string_view text) {
    const int file = ::memfd_create("journal", MFD_CLOEXEC);
    if (file < 0) return;
    fuzz::must(::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()),
               "memory is there");
    std::uint64_t seen = 0;
    const auto summary =
        bench::read_journal("/proc/self/fd/" + std::to_string(file), [&](const bench::JournalEntry&) {
            ++seen;
            return Outcome(Done{});
        });
    ::close(file);
    if (!summary) return;
    fuzz::must(summary->entries == seen, "every good entry is shown");
    fuzz::must(summary->kept_bytes + summary->torn_bytes == text.size(), "every byte is accounted for");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size < 1) return 0;
    const std::string_view text = fuzz::text_of(data + 1, size - 1);
    std::string file = std::string(bench::journal_first_line) + "\n";
    std::size_t number = 0;
    for (const std::string_view line : fuzz::lines_of(text)) {
        check_line(std::string(line));
        check_line(checked(line));
        file +=
            data[0] & 1u ? checked(std::to_string(++number) + " " + std::string(line)) : std::string(line);
        file += '\n';
    }
    check_file(file);
    check_file(text);
    return 0;
}
