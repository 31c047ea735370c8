// Table: what a query of the register answers, and how it is shown: for a terminal, as CSV (RFC 4180, UTF-8,
// line feeds), as JSON (an array of objects). Numbers carry their unit in the column's name.
#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

namespace tipwright::report {

struct Table {
    // Nothing, whole number, number with its decimals, text.
    struct Number {
        double value = 0;
        int decimals = 2;
    };
    using Value = std::variant<std::monostate, std::int64_t, Number, std::string>;

    std::vector<std::string> columns;
    std::vector<std::vector<Value>> rows;
    bool cut = false;  // there are more rows than were asked for
};

// The text of a cell that holds one; empty for any other.
std::string text_of(const Table::Value& value);
std::string as_text(const Table& table);
std::string as_csv(const Table& table);
std::string as_json(const Table& table);

}  // namespace tipwright::report
