#include "report/register/table.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <numeric>

#include "calib/base/csv.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/inert_text.hpp"
#include "report/register/narrow_table.hpp"

namespace tipwright::report {
namespace {

std::string plain(const Table::Value& value) {
    if (const auto* integer = std::get_if<std::int64_t>(&value)) return std::to_string(*integer);
    if (const auto* text = std::get_if<std::string>(&value)) return *text;
    if (const auto* number = std::get_if<Table::Number>(&value))
        return calib::fixed(number->value, number->decimals);
    return {};
}

bool is_text(const Table::Value& value) {
    return std::holds_alternative<std::string>(value);
}

std::string csv_cell(const Table::Value& value) {
    return csv_field(is_text(value) ? inert(plain(value)) : plain(value));
}

}  // namespace

std::string text_of(const Table::Value& value) {
    const auto* text = std::get_if<std::string>(&value);
    return text != nullptr ? *text : std::string();
}

namespace {

constexpr std::size_t column_gap = 2;

// Words are never cut, so that a serial number or a path can be taken from the screen: a cell is broken
// behind a blank, a heading behind an underscore too.
constexpr const char* cell_breaks = " ";
constexpr const char* heading_breaks = " _";

// Each with the character that it is broken behind.
std::vector<std::string> words_of(const std::string& text, const char* breaks) {
    std::vector<std::string> out;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = text.find_first_of(breaks, at);
        out.push_back(text.substr(at, end == std::string::npos ? end : end + 1 - at));
        at += out.back().size();
    }
    return out;
}

std::size_t without_blank(const std::string& text) {
    return code_point_count(text) - (text.ends_with(' ') ? 1 : 0);
}

// The text in lines of at most so many characters.
std::vector<std::string> wrapped(const std::string& text, std::size_t width, const char* breaks) {
    std::vector<std::string> lines{""};
    for (const std::string& word : words_of(text, breaks)) {
        if (!lines.back().empty() && code_point_count(lines.back()) + without_blank(word) > width)
            lines.emplace_back();
        lines.back() += word;
    }
    for (std::string& line : lines)
        if (line.ends_with(' ')) line.pop_back();
    return lines;
}

struct Widths {
    std::vector<std::size_t> whole;
    std::vector<std::size_t> least;  // of the longest word
};

Widths widths_of(const Table& table) {
    Widths out;
    const auto take = [&](std::size_t i, const std::string& text, const char* breaks) {
        out.whole[i] = std::max(out.whole[i], code_point_count(text));
        for (const std::string& word : words_of(text, breaks))
            out.least[i] = std::max(out.least[i], without_blank(word));
    };
    out.whole.resize(table.columns.size());
    out.least.resize(table.columns.size());
    for (std::size_t i = 0; i < table.columns.size(); ++i) take(i, table.columns[i], heading_breaks);
    for (const auto& row : table.rows)
        for (std::size_t i = 0; i < row.size(); ++i) take(i, visible(plain(row[i])), cell_breaks);
    return out;
}

std::string laid_out(const Table& table, const std::vector<std::size_t>& widths) {
    std::string out;
    const auto line = [&](const auto& cell, const auto& right, const char* breaks) {
        std::vector<std::vector<std::string>> cells;
        std::size_t height = 1;
        for (std::size_t i = 0; i < widths.size(); ++i) {
            cells.push_back(wrapped(cell(i), widths[i], breaks));
            height = std::max(height, cells.back().size());
        }
        for (std::size_t k = 0; k < height; ++k) {
            std::string text;
            for (std::size_t i = 0; i < widths.size(); ++i) {
                const std::string content = k < cells[i].size() ? cells[i][k] : "";
                const std::string space(widths[i] - code_point_count(content), ' ');
                text += right(i) ? space + content : content + space;
                text.append(column_gap, ' ');
            }
            text.erase(text.find_last_not_of(' ') + 1);
            out += text + "\n";
        }
    };
    const auto left = [](std::size_t) { return false; };
    line([&](std::size_t i) { return table.columns[i]; }, left, heading_breaks);
    for (const auto& row : table.rows)
        line([&](std::size_t i) { return visible(plain(row[i])); },
             [&](std::size_t i) { return !is_text(row[i]); }, cell_breaks);
    if (table.rows.empty()) out += "(none)\n";
    if (table.cut) out += "(more than are shown)\n";
    return out;
}

// A row as a block of lines, a column each; what is empty is left out.
std::string in_blocks(const Table& table, std::size_t width) {
    std::size_t heading = 0;
    for (const std::string& name : table.columns) heading = std::max(heading, code_point_count(name));
    const std::size_t room = width > heading + column_gap ? width - heading - column_gap : 1;
    std::string out;
    for (const auto& row : table.rows) {
        out += out.empty() ? "" : "\n";
        for (std::size_t i = 0; i < row.size(); ++i) {
            const std::string content = visible(plain(row[i]));
            if (content.empty()) continue;
            std::string name = table.columns[i];
            for (const std::string& line : wrapped(content, room, cell_breaks)) {
                out.append(name)
                    .append(heading + column_gap - code_point_count(name), ' ')
                    .append(line)
                    .append("\n");
                name.clear();
            }
        }
    }
    if (table.cut) out += "(more than are shown)\n";
    return out;
}

}  // namespace

std::string as_text(const Table& table) {
    return laid_out(table, widths_of(table).whole);
}

std::string as_text_within(const Table& table, std::size_t width) {
    const Widths of = widths_of(table);
    std::vector<std::size_t> widths = of.whole;
    const auto total = [&] {
        return std::accumulate(widths.begin(), widths.end(), widths.size() * column_gap) - column_gap;
    };
    while (!table.rows.empty() && total() > width) {
        // The widest of those that may still become narrower.
        std::size_t widest = widths.size();
        for (std::size_t i = 0; i < widths.size(); ++i)
            if (widths[i] > of.least[i] && (widest == widths.size() || widths[i] > widths[widest]))
                widest = i;
        if (widest == widths.size()) return in_blocks(table, width);
        --widths[widest];
    }
    return laid_out(table, widths);
}

std::string as_csv(const Table& table) {
    std::string out;
    for (std::size_t i = 0; i < table.columns.size(); ++i)
        out += (i > 0 ? "," : "") + csv_field(table.columns[i]);
    out += "\n";
    for (const auto& row : table.rows) {
        for (std::size_t i = 0; i < row.size(); ++i) out += (i > 0 ? "," : "") + csv_cell(row[i]);
        out += "\n";
    }
    return out;
}

std::string as_json(const Table& table) {
    nlohmann::ordered_json out = nlohmann::ordered_json::array();
    for (const auto& row : table.rows) {
        nlohmann::ordered_json object = nlohmann::ordered_json::object();
        for (std::size_t i = 0; i < row.size(); ++i) {
            nlohmann::ordered_json& value = object[table.columns[i]];
            if (const auto* integer = std::get_if<std::int64_t>(&row[i])) value = *integer;
            if (const auto* text = std::get_if<std::string>(&row[i])) value = *text;
            // As shown, so that no more digits stand here than were rounded to.
            if (std::holds_alternative<Table::Number>(row[i]))
                value = nlohmann::ordered_json::parse(plain(row[i]));
        }
        out.push_back(std::move(object));
    }
    return out.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace tipwright::report
