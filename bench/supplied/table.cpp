#include "bench/supplied/table.hpp"

#include <algorithm>
#include <cmath>

#include "bench/descriptions/nearest.hpp"
#include "bench/supplied/metadata.hpp"
#include "calib/base/ascii.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {
namespace {

bool blank(const CsvField& field) {
    return field.text.find_first_not_of(" \t") == std::string::npos;
}

}  // namespace

Table::Table(const CsvText& csv, FaultList& faults) : separator_(csv.separator), faults_(faults) {
    const std::vector<CsvRow>& rows = csv.rows;
    if (rows.empty()) {
        faults_.add(FaultCode::missing_field, {}, "the table has no header row",
                    "name the columns, for example step,tips,duration_s,mass_g");
        return;
    }
    const std::vector<CsvField>& header = rows.front().fields;
    header_at_ = header.front().at;
    rows_ = &rows;
    for (const CsvField& field : header) {
        const std::string name(trimmed(field.text));
        if (name.empty())
            faults_.add(FaultCode::syntax, field.at, "a column has no name",
                        "name it with its unit, or remove it");
        else if (has(name))
            faults_.add(FaultCode::duplicate, field.at, "column " + in_quotes(name) + " is there twice",
                        "keep one of them");
        names_.push_back(name);
    }
    for (std::size_t i = 1; i < rows.size(); ++i) {
        const std::vector<CsvField>& fields = rows[i].fields;
        if (fields.front().text.starts_with('#')) {
            faults_.add(FaultCode::syntax, fields.front().at, "a remark stands among the rows",
                        "put lines that begin with # before the header");
            rows_ = nullptr;
            return;
        }
        const bool only_blank_beyond =
            fields.size() > header.size() &&
            std::all_of(fields.begin() + static_cast<std::ptrdiff_t>(header.size()), fields.end(), blank);
        // Between commas a blank field beyond may be the last one, pushed out by a decimal comma before it.
        if (fields.size() == header.size() || (only_blank_beyond && separator_ != ',')) continue;
        faults_.add(FaultCode::syntax, fields.front().at,
                    "the row has " + std::to_string(fields.size()) + " fields, the header " +
                        std::to_string(header.size()),
                    fields.size() > header.size() && separator_ == ','
                        ? "a decimal comma splits a number in two: write a decimal point"
                    : fields.size() > header.size() ? "name every column in the header"
                                                    : "leave a cell empty between its separators");
        rows_ = nullptr;
        return;
    }
    if (rows.size() == 1)
        faults_.add(FaultCode::missing_field, header_at_, "the table has no row below its header",
                    "add the measurements");
}

bool Table::has(std::string_view column) const {
    return std::find(names_.begin(), names_.end(), column) != names_.end();
}

const CsvField* Table::cell(std::size_t row, std::string_view column) const {
    const auto found = std::find(names_.begin(), names_.end(), column);
    if (rows_ == nullptr || found == names_.end()) return nullptr;
    return &(*rows_)[row + 1].fields[static_cast<std::size_t>(found - names_.begin())];
}

TextPosition Table::row_at(std::size_t row) const {
    return (*rows_)[row + 1].fields.front().at;
}

TextPosition Table::at(std::size_t row, std::string_view column) const {
    const CsvField* field = cell(row, column);
    return field == nullptr ? row_at(row) : field->at;
}

std::optional<double> Table::number(std::size_t row, std::string_view column, NumberRange range,
                                    bool required) {
    const CsvField* field = cell(row, column);
    if (field == nullptr) return std::nullopt;
    if (blank(*field)) {
        if (required)
            faults_.add(FaultCode::missing_field, field->at, std::string(column) + " is empty",
                        "write the number, or leave the row out");
        return std::nullopt;
    }
    FieldNumber number = number_in(column, field->text, separator_);
    if (!number.value) {
        faults_.add(FaultCode::bad_value, field->at, std::move(number.what), std::move(number.remedy));
        return std::nullopt;
    }
    if (!(*number.value >= range.low && *number.value <= range.high)) {
        auto [what, remedy] = out_of_range(column, *number.value, range);
        faults_.add(FaultCode::bad_value, field->at, std::move(what), std::move(remedy));
        return std::nullopt;
    }
    return number.value;
}

std::optional<int> Table::whole_number(std::size_t row, std::string_view column, int low, int high,
                                       bool required) {
    const auto value =
        number(row, column, {static_cast<double>(low), static_cast<double>(high), ""}, required);
    if (!value) return std::nullopt;
    if (*value != std::floor(*value)) {
        faults_.add(FaultCode::bad_value, at(row, column),
                    std::string(column) + " is " + shortest(*value) + ", must be a whole number", "");
        return std::nullopt;
    }
    return static_cast<int>(*value);
}

std::string Table::text(std::size_t row, std::string_view column) {
    const CsvField* field = cell(row, column);
    if (field == nullptr) return "";
    if (visible(field->text) != field->text)
        faults_.add(FaultCode::bad_value, field->at,
                    std::string(column) + " is " + in_quotes(field->text) +
                        ", must be UTF-8 without line breaks and control characters",
                    "save the table as CSV in UTF-8");
    return std::string(trimmed(field->text));
}

void Table::require_one_of(const std::vector<std::string>& columns) {
    if (rows_ == nullptr) return;
    std::vector<std::string> found;
    std::string list;
    for (const std::string& column : columns) {
        add_part(list, column, " or ");
        if (has(column)) found.push_back(column);
    }
    if (found.empty())
        faults_.add(FaultCode::missing_field, header_at_, "no column " + list, "add it to the header");
    if (found.size() > 1)
        faults_.add(FaultCode::inconsistent, header_at_,
                    "columns " + found[0] + " and " + found[1] + " are both there", "keep one of them");
}

void Table::finish(const std::vector<std::string>& known) {
    if (rows_ == nullptr) return;
    for (std::size_t i = 0; i < names_.size(); ++i) {
        const std::string& name = names_[i];
        if (name.empty() || std::find(known.begin(), known.end(), name) != known.end()) continue;
        const TextPosition place = rows_->front().fields[i].at;
        const auto with_unit = std::find_if(known.begin(), known.end(), [&](const std::string& column) {
            return column.starts_with(name + "_");
        });
        if (with_unit != known.end()) {
            faults_.add(FaultCode::unknown_field, place, "column " + in_quotes(name) + " has no unit",
                        "write " + *with_unit);
            continue;
        }
        const std::string meant = nearest(name, known);
        faults_.add(FaultCode::unknown_field, place, "column " + in_quotes(name) + " is not known",
                    meant.empty() ? "remove it; templates/supplied/README.md lists the columns"
                                  : "did you mean " + meant + "?");
    }
}

}  // namespace tipwright::bench
