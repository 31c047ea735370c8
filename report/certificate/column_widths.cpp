#include "report/certificate/column_widths.hpp"

#include <algorithm>
#include <numeric>

#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double around_text = 2 * column_pad_x + 0.5;

double sum(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0);
}

// The headings are a row like others. Cells that a row has not are empty.
std::vector<std::vector<Wrapping>> measured_rows(Drawing& canvas, const Table& table,
                                                 const Style& style_of_headings) {
    std::vector<std::vector<Wrapping>> rows(1);
    for (const Column& column : table.columns)
        rows[0].emplace_back(canvas, column.heading, style_of_headings);
    for (const TableRow& row : table.rows) {
        rows.emplace_back();
        for (const std::string& cell : row.cells)
            rows.back().emplace_back(canvas, cell, style_of_row(table, row));
    }
    return rows;
}

std::vector<double> least_widths(const std::vector<std::vector<Wrapping>>& rows, std::size_t columns) {
    constexpr std::size_t any = 1000;
    std::vector<double> out(columns, 0.0);
    for (const auto& row : rows)
        for (std::size_t i = 0; i < row.size(); ++i)
            out[i] = std::max(out[i], row[i].least_width(any) + around_text);
    return out;
}

std::vector<double> by_weights(const Table& table, std::vector<double> least, double width) {
    const double total = std::accumulate(table.columns.begin(), table.columns.end(), 0.0,
                                         [](double all, const Column& c) { return all + c.weight; });
    std::vector<double> widths;
    for (const Column& column : table.columns) widths.push_back(width * column.weight / total);
    // Not more than a third of the table for one long word.
    for (double& one : least) one = std::min(one, width / 3);
    const double needed = sum(least);
    if (needed >= width) {
        for (std::size_t i = 0; i < least.size(); ++i) widths[i] = least[i] * width / needed;
        return widths;
    }
    double lacking = 0;
    double spare = 0;
    for (std::size_t i = 0; i < least.size(); ++i) {
        lacking += std::max(0.0, least[i] - widths[i]);
        spare += std::max(0.0, widths[i] - least[i]);
    }
    for (std::size_t i = 0; i < least.size(); ++i)
        widths[i] = widths[i] < least[i] ? least[i] : widths[i] - lacking * (widths[i] - least[i]) / spare;
    return widths;
}

// Which widths so many lines in each row need.
std::vector<double> widths_for(const std::vector<std::vector<Wrapping>>& rows,
                               const std::vector<std::size_t>& lines, std::size_t columns) {
    std::vector<double> out(columns, 0.0);
    for (std::size_t r = 0; r < rows.size(); ++r)
        for (std::size_t i = 0; i < rows[r].size(); ++i)
            out[i] = std::max(out[i], rows[r][i].least_width(lines[r]) + around_text);
    return out;
}

// Begins with the lines that line feeds ask for, and gives a line more to the row where that saves most of
// the width, until all fit. Rows that only together save something are met one after the other, longest
// first.
std::vector<double> lowest(const std::vector<std::vector<Wrapping>>& rows, std::size_t columns,
                           double width) {
    std::vector<std::size_t> lines(rows.size(), 1);
    for (std::size_t r = 0; r < rows.size(); ++r)
        for (const Wrapping& cell : rows[r]) lines[r] = std::max(lines[r], cell.lines(1e9));
    std::vector<double> widths = widths_for(rows, lines, columns);
    while (sum(widths) > width) {
        std::size_t best = 0;
        std::pair<double, double> best_saves{-1, -1};
        for (std::size_t r = 0; r < rows.size(); ++r) {
            ++lines[r];
            const double saves = sum(widths) - sum(widths_for(rows, lines, columns));
            --lines[r];
            double own = 0;
            for (const Wrapping& cell : rows[r]) own += cell.least_width(lines[r]);
            if (const std::pair offer(saves, own); offer > best_saves) {
                best = r;
                best_saves = offer;
            }
        }
        ++lines[best];
        widths = widths_for(rows, lines, columns);
    }
    const double stretched = width / sum(widths);
    for (double& one : widths) one *= stretched;
    return widths;
}

}  // namespace

std::vector<double> column_widths(Drawing& canvas, const Table& table, const Style& style_of_headings,
                                  double width) {
    const auto rows = measured_rows(canvas, table, style_of_headings);
    const std::vector<double> least = least_widths(rows, table.columns.size());
    if (table.low && sum(least) <= width) return lowest(rows, table.columns.size(), width);
    return by_weights(table, least, width);
}

}  // namespace tipwright::report::certificate
