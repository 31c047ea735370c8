// The comparison as a PDF: error curves of all records in one chart, tables of errors, E_n numbers, accuracy
// kept and drift. Up to eight records, so that each has a marker of its own.
#pragma once

#include <string>

#include "calib/base/fault.hpp"
#include "report/certificate/stationery.hpp"
#include "report/comparison/comparison.hpp"

namespace tipwright::report {

inline constexpr std::size_t max_drawn_records = 8;

// Faults: bad_value (more than eight records, a letter the font lacks), those of the fonts.
Result<std::string> draw_comparison(const Comparison& comparison, const Stationery& paper);
// Its chart by itself, as SVG.
Result<std::string> comparison_picture(const Comparison& comparison, const Stationery& paper);

}  // namespace tipwright::report
