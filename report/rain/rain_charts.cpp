#include "report/rain/rain_charts.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/dates.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

// So many days are drawn one by one, more as months.
constexpr std::size_t days_drawn = 62;
constexpr std::size_t days_in_curve = 750;

Curve curve_from_nothing(std::string legend, double width, Colour colour) {
    Curve out;
    out.legend = std::move(legend);
    out.stroke.width = width;
    out.stroke.colour = colour;
    out.points.push_back({0, 0});
    return out;
}

}  // namespace

Chart rain_sum_chart(const RainReport& report, const Words& words) {
    Chart chart;
    if (report.days.empty()) return chart;
    const double start = report.days.front().from_s;
    chart.x_title = words.text(
        "rain.chart_x",
        {{"from", words.short_date(rain_moment(start, report.settings.utc_offset_s).substr(0, 10))}});
    chart.y_title = words.text("rain.chart_y");
    chart.words = words.text("rain.chart");
    Curve corrected = curve_from_nothing(words.text("rain.corrected"), 1.1, black);
    Curve raw = curve_from_nothing(words.text("rain.uncorrected"), 0.9, grey(0.25));
    raw.stroke.dash = {5, 2};
    Band band{"", {{0, 0}}, {{0, 0}}};
    double depth_mm = 0, raw_mm = 0, common = 0, rest = 0;
    // Of years so many days are drawn that a line of print still shows them all.
    const std::size_t every = report.days.size() / days_in_curve + 1;
    std::size_t passed = 0;
    for (const auto& day : report.days) {
        const bool drawn = passed++ % every == 0 || passed == report.days.size();
        const double x0 = (day.from_s - start) / day_s;
        const double x1 = (day.until_s - start) / day_s;
        // What is common adds up; the rest adds in squares.
        const double before = std::hypot(common, std::sqrt(rest)) * day.k;
        if (drawn) {
            corrected.points.push_back({x0, depth_mm});
            raw.points.push_back({x0, raw_mm});
            band.lower.push_back({x0, depth_mm - before});
            band.upper.push_back({x0, depth_mm + before});
        }
        depth_mm += day.corrected_mm;
        raw_mm += day.uncorrected_mm;
        common += day.u_common_mm;
        rest += day.u_tips_mm * day.u_tips_mm;
        if (!drawn) continue;
        const double after = std::hypot(common, std::sqrt(rest)) * day.k;
        corrected.points.push_back({x1, depth_mm});
        raw.points.push_back({x1, raw_mm});
        band.lower.push_back({x1, depth_mm - after});
        band.upper.push_back({x1, depth_mm + after});
    }
    chart.x = linear_axis(0, std::max(1.0, corrected.points.back().x), 8);
    chart.y = linear_axis(0, std::max({depth_mm, raw_mm, 1.0}) * 1.04, 7);
    chart.bands.push_back(std::move(band));
    chart.curves.push_back(std::move(corrected));
    chart.curves.push_back(std::move(raw));
    return chart;
}

Chart rain_period_chart(const RainReport& report, const Words& words) {
    Chart chart;
    const bool by_day = report.days.size() <= days_drawn && report.months.size() <= 3;
    const auto& amounts = by_day ? report.days : report.months;
    if (amounts.empty()) return chart;
    const double start = amounts.front().from_s;
    chart.x_title = words.text(
        "rain.chart_x",
        {{"from", words.short_date(rain_moment(start, report.settings.utc_offset_s).substr(0, 10))}});
    chart.y_title = words.text("rain.mm");
    chart.words = words.text(by_day ? "rain.days_chart" : "rain.months_chart");
    Series corrected{words.text("rain.corrected"), Marker::circle, true, {}};
    Series raw{words.text("rain.uncorrected"), Marker::square, false, {}};
    double highest = 1, x_high = 1;
    for (const auto& one : amounts) {
        const double x = ((one.from_s + one.until_s) / 2 - start) / day_s;
        corrected.points.push_back({x, one.corrected_mm, one.U_mm});
        raw.points.push_back({x, one.uncorrected_mm, 0});
        highest = std::max({highest, one.corrected_mm + one.U_mm, one.uncorrected_mm});
        x_high = std::max(x_high, (one.until_s - start) / day_s);
    }
    chart.x = linear_axis(0, x_high, 8);
    chart.y = linear_axis(0, 1.04 * highest, 7);
    chart.series.push_back(std::move(raw));
    chart.series.push_back(std::move(corrected));
    return chart;
}

}  // namespace tipwright::report
