// Charts of the register's curves: one by itself, those of a gauge's years over each other, and its drift.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "bench/page/desk/desk.hpp"
#include "bench/page/views/page_words.hpp"
#include "report/certificate/svg.hpp"

namespace tipwright::page {

// Nothing to draw: empty.
std::string curve_chart(const std::vector<CurveOfYear>& curves, const PageWords& words,
                        report::certificate::Drawing& measure, const std::string& id,
                        report::certificate::Theme theme = report::certificate::Theme::page);
// The error as found, and as it is expected after the adjustment.
std::string adjustment_chart(const calib::AdjustmentAdvice& advice, double coverage, const PageWords& words,
                             report::certificate::Drawing& measure);
// Title and SVG: the curves over each other, and the error at the intensity that all have in common, by years
// since the first, each with its U.
std::vector<std::pair<std::string, std::string>> life_charts(
    const LifeOfGauge& life, const PageWords& words, report::certificate::Drawing& measure,
    report::certificate::Theme theme = report::certificate::Theme::page);

}  // namespace tipwright::page
