// Widths of a table's columns. Every one gets what its longest word needs.
#pragma once

#include <vector>

#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

constexpr double column_pad_x = 3;  // on both sides of a cell, in points

// In points; they add up to `width`. What is left above the least goes by the weights of the columns or, in a
// table that wants to be low, to where it saves lines. When the words need more than there is, the columns
// that need most give way and their words are cut.
std::vector<double> column_widths(Drawing& canvas, const Table& table, const Style& style_of_headings,
                                  double width);

}  // namespace tipwright::report::certificate
