// A table for a terminal that is not wide enough for it.
#pragma once

#include <cstddef>
#include <string>

#include "report/register/table.hpp"

namespace tipwright::report {

// As as_text, within so many characters a line: the widest columns become narrower and what stands in them is
// wrapped between its words. Where even that does not do, a row is a block of lines, a column each.
std::string as_text_within(const Table& table, std::size_t width);

}  // namespace tipwright::report
