// CSV: rows of fields by RFC 4180, each field with its place. Comma, quotes doubled inside quotes, LF or
// CRLF. Lines before the header that begin with # are given apart, as are blank lines left out.
// Caps: 8 MiB, 200 000 rows, 64 fields a row, 1000 bytes a field.
// Faults: file_too_large, syntax (place, and what to change).
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "bench/descriptions/description_text.hpp"
#include "bench/descriptions/reading.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

inline constexpr std::size_t csv_bytes_max = 8 * 1024 * 1024;
inline constexpr std::size_t csv_rows_max = 200000;
inline constexpr std::size_t csv_fields_max = 64;
inline constexpr std::size_t csv_field_bytes_max = 1000;

struct CsvField {
    std::string text;
    TextPosition at;
};

struct CsvRow {
    std::vector<CsvField> fields;
};

struct CsvText {
    std::vector<CsvField>
        remarks;               // leading # lines, without the #; trailing commas of a spreadsheet cut off
    std::vector<CsvRow> rows;  // header first
};

Result<CsvText> parse_csv(const DescriptionText& text);

}  // namespace tipwright::bench
