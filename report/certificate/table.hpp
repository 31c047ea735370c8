// Table: columns with wrapped headings, rows that wrap within their cells, heading repeated on each page.
// Numbers line up on the decimal sign.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/flow.hpp"

namespace tipwright::report::certificate {

enum class Align { left, centre, number };

struct Column {
    std::string heading;  // may have line feeds and subscripts
    double weight = 1;    // share of the width
    Align align = Align::left;
};

struct TableRow {
    std::vector<std::string> cells;
    bool bold = false;
    bool rule_above = false;
};

struct Table {
    std::string caption;  // stays with the table
    Style caption_style = body_style;
    std::vector<Column> columns;
    std::vector<TableRow> rows;
    Style style = small_style;
    // An empty first cell belongs to the last full one above it, which is said again at the top of a page.
    bool groups = false;
    bool low = false;  // columns as wide as makes it lowest, in place of their weights
};

Style style_of_row(const Table& table, const TableRow& row);

void draw_table(Flow& flow, const Table& table, char decimal_sign);

}  // namespace tipwright::report::certificate
