// JournalTail: reads a journal while another process writes it, as far as it goes. Only looks: takes no lock,
// writes nothing, keeps the file open between looks. What stands after the last whole line is left for the
// next look; when a torn end was cut back (a run that was resumed) it goes on from the last good entry.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>

#include "bench/journal/reader.hpp"

namespace tipwright::page {

class JournalTail {
public:
    explicit JournalTail(std::filesystem::path file) : file_(std::move(file)) {}
    JournalTail(const JournalTail&) = delete;
    JournalTail& operator=(const JournalTail&) = delete;
    ~JournalTail();

    // Hands on the entries that came since the last look, at most about `most_bytes` of them. True: there is
    // more to read now. Faults: file_missing, file_unreadable, unsupported_version, damaged (a bad line that
    // is no torn end), and what `visit` returned; after one of them nothing more is read.
    Result<bool> look(const bench::JournalVisitor& visit, std::size_t most_bytes = 4u << 20);

    std::uint64_t entries() const { return entries_; }

private:
    Outcome open();
    Outcome take_lines(const bench::JournalVisitor& visit);
    Outcome take(std::span<char> text, const bench::JournalVisitor& visit);

    std::filesystem::path file_;
    int descriptor_ = -1;
    std::uint64_t good_bytes_ = 0;  // up to the end of the last good entry
    std::uint64_t entries_ = 0;
    bool headed_ = false;
    std::string rest_;  // read, not yet a whole line
    std::string bad_line_;
    bench::JournalEntry entry_;
};

}  // namespace tipwright::page
