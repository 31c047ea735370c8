// Charts of a rain report: amount since the beginning, and amounts of months or days.
#pragma once

#include "report/certificate/chart.hpp"
#include "report/certificate/numbers.hpp"
#include "report/rain/rain_report.hpp"

namespace tipwright::report {

// Nothing to draw: an empty chart (no curves, no series).
certificate::Chart rain_sum_chart(const RainReport& report, const certificate::Words& words);
certificate::Chart rain_period_chart(const RainReport& report, const certificate::Words& words);

}  // namespace tipwright::report
