// CSV (RFC 4180) as spreadsheets write it: comma, semicolon or tab between fields, whichever the heading
// uses; quotes doubled inside quotes; LF or CRLF; a byte order mark is skipped, blank lines are left out.
// Each field has its place. Lines before the heading that begin with # are given apart. Caps: 64 MiB, 200 000
// rows, 200 fields a row, 4000 bytes a field.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/text.hpp"

namespace tipwright {

inline constexpr std::size_t csv_bytes_max = std::size_t{64} << 20;
inline constexpr std::size_t csv_rows_max = 200000;
inline constexpr std::size_t csv_fields_max = 200;
inline constexpr std::size_t csv_field_bytes_max = 4000;

struct CsvField {
    std::string text;
    TextPosition at;
};

struct CsvRow {
    std::vector<CsvField> fields;
};

struct CsvText {
    char separator = ',';
    std::vector<CsvField> remarks;  // without the #; trailing separators of a spreadsheet cut off
    std::vector<CsvRow> rows;       // heading first
};

// Faults: file_too_large, syntax (place, and what to change).
Result<CsvText> parse_csv(std::string_view text, const std::string& name);
// A number's text with a decimal point: where fields are not separated by commas, a single comma is a decimal
// sign.
std::string with_decimal_point(std::string_view number, char separator);
// A field as it is written between commas: in quotes when it needs them.
std::string csv_field(std::string_view text);

}  // namespace tipwright
