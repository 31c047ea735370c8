// A column of a table as texts, for the tests of what the register answers.
#pragma once

#include <string>
#include <vector>

#include "report/register/table.hpp"

namespace tipwright::test {

inline std::vector<std::string> column_of(const report::Table& table, const std::string& name) {
    std::vector<std::string> out;
    for (std::size_t i = 0; i < table.columns.size(); ++i)
        if (table.columns[i] == name)
            for (const auto& row : table.rows) {
                if (const auto* text = std::get_if<std::string>(&row[i]))
                    out.push_back(*text);
                else if (const auto* integer = std::get_if<std::int64_t>(&row[i]))
                    out.push_back(std::to_string(*integer));
                else
                    out.emplace_back("-");
            }
    return out;
}

using Texts = std::vector<std::string>;

}  // namespace tipwright::test
