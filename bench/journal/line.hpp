// One line of the journal: entry to text and back. Pure functions; see journal/format.md.
#pragma once

#include <concepts>
#include <cstdint>
#include <initializer_list>
#include <span>
#include <string>
#include <string_view>
#include <variant>

#include "bench/journal/entry.hpp"

namespace tipwright::bench {

inline constexpr std::string_view journal_first_line = "tipwright-journal 1.0";
// Longest line, ending included.
inline constexpr std::size_t journal_line_limit = 65536;

// A field as it is written: numbers in the fewest digits that read back to the same value.
class JournalField {
public:
    using Value = std::variant<std::string_view, double, std::int64_t, std::uint64_t, bool>;

    JournalField(std::string_view name, std::string_view text) : name_(name), value_(text) {}
    JournalField(std::string_view name, const std::string& text)
        : name_(name), value_(std::string_view(text)) {}
    JournalField(std::string_view name, const char* text) : name_(name), value_(std::string_view(text)) {}
    JournalField(std::string_view name, bool value) : name_(name), value_(value) {}
    JournalField(std::string_view name, double value) : name_(name), value_(value) {}
    template <std::signed_integral Integer>
    JournalField(std::string_view name, Integer value) : name_(name), value_(std::int64_t{value}) {}
    template <std::unsigned_integral Integer>
    JournalField(std::string_view name, Integer value) : name_(name), value_(std::uint64_t{value}) {}

    std::string_view name() const { return name_; }
    const Value& value() const { return value_; }

private:
    std::string_view name_;
    Value value_;
};

// CRC-32 (IEEE 802.3: polynomial 04C11DB7, reflected EDB88320) of what stands before " *".
std::uint32_t journal_checksum(std::string_view bytes);

// Appends the line, newline included. A kind or name that is not made of letters, digits and
// underscores is a bug of the caller and throws std::logic_error.
void append_journal_line(std::string& out, std::uint64_t sequence, double time_s, std::string_view kind,
                         std::initializer_list<JournalField> fields);

// Reads a line without its newline into `entry`, which then points into the line; escapes in it are resolved
// in place. Null when good, otherwise what is wrong with it.
const char* parse_journal_line(std::span<char> line, JournalEntry& entry);

}  // namespace tipwright::bench
