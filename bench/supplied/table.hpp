// Table: columns of a CSV by name, cells with their place. Internal to this folder.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/descriptions/reading.hpp"
#include "calib/base/csv.hpp"

namespace tipwright::bench {

// Of a table with so many faults no more are told.
inline constexpr std::size_t faults_enough = 50;

class Table {
public:
    // Notes faults of the header (a name twice, an empty name), remarks among the rows, rows of the wrong
    // length.
    Table(const CsvText& csv, FaultList& faults);

    bool has(std::string_view column) const;
    std::size_t rows() const { return rows_ == nullptr ? 0 : rows_->size() - 1; }
    TextPosition row_at(std::size_t row) const;
    TextPosition at(std::size_t row, std::string_view column) const;
    TextPosition header_at() const { return header_at_; }

    // Nothing when the column is absent or the cell empty; an empty cell of a required column is a fault.
    std::optional<double> number(std::size_t row, std::string_view column, NumberRange range,
                                 bool required = false);
    std::optional<int> whole_number(std::size_t row, std::string_view column, int low, int high,
                                    bool required = false);
    std::string text(std::size_t row, std::string_view column);

    // Notes that none, or more than one, of these columns is there.
    void require_one_of(const std::vector<std::string>& columns);
    // Notes every column that is not among the known ones.
    void finish(const std::vector<std::string>& known);

private:
    const CsvField* cell(std::size_t row, std::string_view column) const;

    const std::vector<CsvRow>* rows_ = nullptr;
    char separator_ = ',';
    TextPosition header_at_;
    std::vector<std::string> names_;
    FaultList& faults_;
};

}  // namespace tipwright::bench
