// Journal reader: streams a journal of any length with flat memory, checks every line's checksum and that
// no entry is missing. What stands after the last good entry and holds no good entry itself is a torn tail
// (crash, power cut, full disk): it is left out and reported. A bad line with good ones after it is damage:
// Fault damaged, naming the line.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>

#include "bench/journal/entry.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct JournalLimits {
    std::uint64_t file_bytes = 4ull << 30;
};

struct JournalSummary {
    std::uint64_t entries = 0;     // good ones; also the last sequence number
    std::uint64_t kept_bytes = 0;  // up to the end of the last good entry
    std::uint64_t torn_bytes = 0;  // after that; 0 when the journal ends cleanly
    double last_time_s = 0;
    bool closed = false;  // its last entry is of kind close
};

// The entry is valid during the call only. A Fault it returns ends the reading and is handed on.
using JournalVisitor = std::function<Outcome(const JournalEntry&)>;

Result<JournalSummary> read_journal(const std::filesystem::path& path, const JournalVisitor& visit,
                                    const JournalLimits& limits = {});

}  // namespace tipwright::bench
