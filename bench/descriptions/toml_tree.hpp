// TomlTree: a TOML text as a plain tree in which every key and value knows its line and column.
// Keeps the parser's own heavy header out of all other files. Accepts TOML 1.0 up to 256 KiB.
// Faults: file_too_large, syntax, duplicate; where is file:line:column.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "bench/descriptions/description_text.hpp"
#include "bench/descriptions/reading.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/format_version.hpp"

namespace tipwright::bench {

inline constexpr std::size_t description_bytes_max = std::size_t{256} * 1024;
// Of the form of descriptions; a file says it by version = "1.0" in its first table, or is of 1.0.
inline constexpr FormatVersion newest_version{1, 0};

enum class TomlKind { text, whole_number, number, flag, date, time, list, table };

// "a text", "a list", ... for messages.
std::string_view name_of(TomlKind kind);

struct TomlEntry;

struct TomlValue {
    TomlKind kind = TomlKind::table;
    TextPosition at;
    TextPosition end;   // just behind the value
    std::string text;   // of a text; a date as 2025-03-31
    double number = 0;  // of a number and a whole number
    std::int64_t whole_number = 0;
    bool flag = false;
    std::vector<TomlValue> list;
    std::vector<TomlEntry> table;  // ascending key

    const TomlEntry* find(std::string_view key) const;
};

struct TomlEntry {
    std::string key;
    TextPosition key_at;
    TomlValue value;
};

Result<TomlValue> parse_toml(const DescriptionText& description);

}  // namespace tipwright::bench
