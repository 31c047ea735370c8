// Journal entries: everything that happened, in order. The journal is the only truth; the record is a
// pure function of it. Text, one entry a line:  <sequence> <time_s> <kind> <fields...> *<crc32 hex>
// Fields are name=value with value quoted as in JSON where it has spaces. See journal/format.md.
#pragma once

#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

namespace tipwright::bench {

// Kinds: open, given (one line of a description file), state, step, pump, drain, weight, edge,
// climate, trim, timing, collect, accepted, remark, fault, close, continue.
// The texts are those of the line that was read, and live as long as it.
struct JournalEntry {
    std::uint64_t sequence = 0;
    double time_s = 0;
    std::string_view kind;
    using Field = std::pair<std::string_view, std::string_view>;  // name and value
    std::vector<Field> fields;

    // Empty when absent.
    std::string_view field(std::string_view name) const;
};

}  // namespace tipwright::bench
