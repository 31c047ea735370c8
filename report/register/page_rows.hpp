// Private to report/register.
#pragma once

#include <cstdint>

namespace tipwright::report {

// Rows of a table that are fetched at once, after a key: no database then holds a table in memory.
inline constexpr std::int64_t page_rows = 5000;

}  // namespace tipwright::report
