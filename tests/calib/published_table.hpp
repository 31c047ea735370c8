// Reads the published tables in fixtures/published/: '#' comments, a header row, comma-separated values.
#pragma once

#include <cstddef>
#include <fstream>
#include <limits>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>
#include "tests/support/paths.hpp"

namespace tipwright::test {

class PublishedTable {
public:
    explicit PublishedTable(const std::string& name) : name_(name) {
        std::ifstream in(tipwright::test::source_dir() + "/fixtures/published/" + name);
        if (!in) throw std::runtime_error("no fixture " + name);
        std::string line;
        while (std::getline(in, line)) {
            if (line.empty() || line.front() == '#') continue;
            std::vector<std::string> cells;
            std::stringstream row(line);
            for (std::string cell; std::getline(row, cell, ',');) cells.push_back(cell);
            if (header_.empty()) {
                header_ = cells;
            } else {
                cells.resize(header_.size());
                rows_.push_back(cells);
            }
        }
        if (rows_.empty()) throw std::runtime_error("empty fixture " + name);
    }

    std::size_t rows() const { return rows_.size(); }
    std::size_t columns() const { return header_.size(); }

    const std::string& text(std::size_t row, const std::string& column) const {
        for (std::size_t i = 0; i < header_.size(); ++i) {
            if (header_[i] == column) return rows_.at(row)[i];
        }
        throw std::runtime_error("no column " + column + " in " + name_);
    }

    bool has(std::size_t row, const std::string& column) const { return !text(row, column).empty(); }

    double number(std::size_t row, const std::string& column) const { return to_number(text(row, column)); }
    double number(std::size_t row, std::size_t column) const { return to_number(rows_.at(row).at(column)); }

    std::vector<double> column(const std::string& name) const {
        std::vector<double> values;
        for (std::size_t i = 0; i < rows(); ++i) values.push_back(number(i, name));
        return values;
    }

    // Of a table whose first column names a quantity: the row of that quantity.
    std::size_t row_of(const std::string& quantity) const {
        for (std::size_t i = 0; i < rows_.size(); ++i) {
            if (rows_[i].front() == quantity) return i;
        }
        throw std::runtime_error("no row " + quantity + " in " + name_);
    }

    bool has(const std::string& quantity, const std::string& column) const {
        return has(row_of(quantity), column);
    }
    double number(const std::string& quantity, const std::string& column) const {
        return number(row_of(quantity), column);
    }

    // Half a unit of the last digit printed, with a hair for binary rounding.
    double half_digit(const std::string& quantity, const std::string& column) const {
        const std::string& printed = text(row_of(quantity), column);
        const std::size_t point = printed.find('.');
        double unit = 1;
        if (point != std::string::npos) {
            for (std::size_t i = point + 1; i < printed.size() && printed[i] >= '0' && printed[i] <= '9'; ++i)
                unit /= 10;
        }
        return unit * 0.5000001;
    }

private:
    static double to_number(const std::string& text) {
        return text == "inf" ? std::numeric_limits<double>::infinity() : std::stod(text);
    }

    std::string name_;
    std::vector<std::string> header_;
    std::vector<std::vector<std::string>> rows_;
};

}  // namespace tipwright::test
