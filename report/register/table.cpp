#include "report/register/table.hpp"

#include <nlohmann/json.hpp>

#include "calib/base/csv.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/files/inert_text.hpp"

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

std::string as_text(const Table& table) {
    std::vector<std::size_t> widths;
    for (const std::string& name : table.columns) widths.push_back(code_point_count(name));
    for (const auto& row : table.rows)
        for (std::size_t i = 0; i < row.size(); ++i)
            widths[i] = std::max(widths[i], code_point_count(visible(plain(row[i]))));
    std::string out;
    const auto line = [&](const auto& cell, const auto& right) {
        std::string text;
        for (std::size_t i = 0; i < widths.size(); ++i) {
            const std::string content = cell(i);
            const std::string space(widths[i] - code_point_count(content), ' ');
            text += right(i) ? space + content : content + space;
            text += "  ";
        }
        text.erase(text.find_last_not_of(' ') + 1);
        out += text + "\n";
    };
    const auto left = [](std::size_t) { return false; };
    line([&](std::size_t i) { return table.columns[i]; }, left);
    for (const auto& row : table.rows)
        line([&](std::size_t i) { return visible(plain(row[i])); },
             [&](std::size_t i) { return !is_text(row[i]); });
    if (table.rows.empty()) out += "(none)\n";
    if (table.cut) out += "(more than are shown)\n";
    return out;
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
