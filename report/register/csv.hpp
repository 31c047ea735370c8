// Reading CSV (RFC 4180) as spreadsheets write it: comma, semicolon or tab, whichever the heading uses;
// quotes; CRLF or LF; a byte-order mark is skipped. Places are lines and columns of the text, counted from 1
// in characters.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_csv_bytes = std::size_t{64} << 20;
inline constexpr std::size_t max_csv_fields = 200;

struct CsvField {
    std::string text;
    int column = 0;
};

struct CsvLine {
    int line = 0;
    std::vector<CsvField> fields;
};

struct CsvText {
    char separator = ',';
    std::vector<CsvLine> lines;  // the heading first; blank lines left out
};

// Fault: syntax (an open quote, text after a closing one), file_too_large.
Result<CsvText> read_csv(std::string_view text, const std::string& name);
// A decimal number; with a semicolon or tab between fields a comma may be its decimal sign.
bool csv_number(std::string_view text, char separator, double& out);

}  // namespace tipwright::report
