// A line of a journal as a run writes it, with its checksum.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>

#include "bench/journal/line.hpp"

namespace tipwright::test {

inline std::string line(std::uint64_t sequence, double time_s, std::string_view kind,
                        std::initializer_list<bench::JournalField> fields) {
    std::string out;
    bench::append_journal_line(out, sequence, time_s, kind, fields);
    return out;
}

}  // namespace tipwright::test
