#include "bench/page/views/desk_charts.hpp"

#include <algorithm>
#include <cmath>

#include "bench/page/views/page_chart.hpp"
#include "calib/base/dates.hpp"
#include "report/certificate/record_pictures.hpp"

namespace tipwright::page {

namespace {

using namespace report::certificate;

constexpr Marker markers[] = {Marker::circle, Marker::square, Marker::triangle, Marker::diamond};

// Room above and below what is drawn, at least a per cent.
Axis error_axis(const std::vector<Series>& series, const std::vector<LimitSpan>& limits = {}) {
    double low = 0;
    double high = 0;
    for (const Series& one : series)
        for (const ChartPoint& point : one.points) {
            low = std::min(low, point.y - point.U);
            high = std::max(high, point.y + point.U);
        }
    for (const LimitSpan& span : limits) {
        low = std::min(low, span.low);
        high = std::max(high, span.high);
    }
    const double room = std::max(0.1 * (high - low), 0.5);
    return linear_axis(low - room, high + room, 5);
}

std::optional<long> days_of(const std::string& date) {
    const auto day = iso_date(date);
    if (!day) return std::nullopt;
    return std::chrono::sys_days(*day).time_since_epoch().count();
}

std::string themed(const Chart& chart, const PageWords& words, Drawing& measure, Theme theme,
                   const std::string& id) {
    return theme == Theme::page ? page_chart(chart, words, measure, id)
                                : chart_picture(chart, words.certificate(), measure, broad_chart, theme, id);
}

std::string state_of(const CurveOfYear& curve, const PageWords& words) {
    if (curve.elsewhere) return curve.on + " " + words.text("value.elsewhere") + ", " + curve.number;
    return curve.on + " " + words.text(curve.as_left ? "gauge_on.as_left" : "gauge_on.as_found");
}

}  // namespace

std::string curve_chart(const std::vector<CurveOfYear>& curves, const PageWords& words, Drawing& measure,
                        const std::string& id, Theme theme) {
    Chart chart;
    double smallest = 1e9;
    double largest = 0;
    for (std::size_t k = 0; k < curves.size(); ++k) {
        Series one;
        one.legend = state_of(curves[k], words);
        one.marker = markers[k % std::size(markers)];
        one.filled = k / std::size(markers) % 2 == 0;
        Curve joined{
            "", {0.6, black, k % 2 == 0 ? std::vector<unsigned>{} : std::vector<unsigned>{3, 2}}, {}};
        for (const report::KeptPoint& point : curves[k].curve) {
            if (!(point.reference_mm_h > 0) || !std::isfinite(point.error_percent)) continue;
            smallest = std::min(smallest, point.reference_mm_h);
            largest = std::max(largest, point.reference_mm_h);
            one.points.push_back({point.reference_mm_h, point.error_percent, point.U_percent});
            joined.points.push_back({point.reference_mm_h, point.error_percent});
        }
        if (one.points.empty()) continue;
        chart.series.push_back(std::move(one));
        if (joined.points.size() > 1) chart.curves.push_back(std::move(joined));
    }
    if (chart.series.empty() || !(largest > smallest)) return "";
    chart.x_title = words.text("chart.intensity");
    chart.y_title = words.text("chart.error");
    chart.x = axis_for_rates(smallest, largest);
    chart.y = error_axis(chart.series);
    chart.zero_line = true;
    chart.words = words.text("chart.curves");
    return themed(chart, words, measure, theme, id);
}

std::string adjustment_chart(const calib::AdjustmentAdvice& advice, double coverage, const PageWords& words,
                             Drawing& measure) {
    Chart chart;
    double smallest = 1e9;
    double largest = 0;
    // Where nothing is to be gained both lie in the same places: side by side.
    constexpr double apart = 4;
    for (const bool after : {false, true}) {
        Series one;
        one.legend = words.text(after ? "adjust.expected" : "gauge_on.as_found");
        one.marker = after ? Marker::square : Marker::circle;
        one.filled = !after;
        one.shift = after ? apart : 0;
        for (const auto& step : advice.predicted) {
            const calib::Uncertain& error = after ? step.left_percent : step.found_percent;
            if (!(step.intensity_mm_h > 0) || !std::isfinite(error.value)) continue;
            smallest = std::min(smallest, step.intensity_mm_h);
            largest = std::max(largest, step.intensity_mm_h);
            one.points.push_back({step.intensity_mm_h, error.value, calib::expanded(error, coverage).U});
        }
        if (!one.points.empty()) chart.series.push_back(std::move(one));
    }
    if (!(largest > smallest)) return "";
    for (const auto& step : advice.predicted) {
        if (!step.limits) continue;
        const LimitSpan span{step.limits->from_mm_h, step.limits->to_mm_h, step.limits->low_percent,
                             step.limits->high_percent};
        const bool known = std::any_of(chart.limits.begin(), chart.limits.end(), [&](const LimitSpan& one) {
            return one.from == span.from && one.to == span.to;
        });
        if (!known) chart.limits.push_back(span);
    }
    chart.limit_legend = words.text("adjust.limits");
    chart.x_title = words.text("chart.intensity");
    chart.y_title = words.text("chart.error");
    chart.x = axis_for_rates(smallest, largest);
    chart.y = error_axis(chart.series, chart.limits);
    chart.zero_line = true;
    chart.words = words.text("adjust.curves");
    return page_chart(chart, words, measure, "adjust");
}

std::vector<std::pair<std::string, std::string>> life_charts(const LifeOfGauge& life, const PageWords& words,
                                                             Drawing& measure, Theme theme) {
    std::vector<std::pair<std::string, std::string>> out;
    std::string over_each_other = curve_chart(life.curves, words, measure, "life", theme);
    if (over_each_other.empty()) return out;
    out.emplace_back(words.text("chart.curves"), std::move(over_each_other));
    // The middle one of the newest curve's intensities that the most of them have.
    std::vector<double> shared;
    std::size_t most = 2;
    for (const report::KeptPoint& point : life.curves.back().curve) {
        const auto count = static_cast<std::size_t>(
            std::count_if(life.curves.begin(), life.curves.end(), [&](const CurveOfYear& one) {
                return report::at_intensity(one.curve, point.reference_mm_h).has_value();
            }));
        if (count < most) continue;
        if (count > most) shared.clear();
        most = count;
        shared.push_back(point.reference_mm_h);
    }
    const double at_mm_h = shared.empty() ? 0 : shared[shared.size() / 2];
    const auto first = days_of(life.curves.front().on);
    if (!(at_mm_h > 0) || !first) return out;
    Chart chart;
    struct Kind {
        const char* word;
        Marker marker;
        bool left, elsewhere;
    };
    for (const Kind& kind : {Kind{"gauge_on.as_found", Marker::circle, false, false},
                             Kind{"gauge_on.as_left", Marker::square, true, false},
                             Kind{"value.elsewhere", Marker::diamond, false, true}}) {
        Series one;
        one.legend = words.text(kind.word);
        one.marker = kind.marker;
        one.filled = kind.marker == Marker::circle;
        for (const CurveOfYear& curve : life.curves) {
            const auto day = days_of(curve.on);
            const auto point = report::at_intensity(curve.curve, at_mm_h);
            if (curve.as_left != kind.left || curve.elsewhere != kind.elsewhere || !day || !point) continue;
            one.points.push_back({static_cast<double>(*day - *first) / days_in_a_year, point->error_percent,
                                  point->U_percent});
        }
        if (!one.points.empty()) chart.series.push_back(std::move(one));
    }
    double last = 0;
    for (const Series& one : chart.series)
        for (const ChartPoint& point : one.points) last = std::max(last, point.x);
    if (!(last > 0)) return out;
    const std::string title = words.text("chart.drift", {{"rate", words.number(at_mm_h, 1)}});
    chart.x_title = words.text("chart.years");
    chart.y_title = words.text("chart.error");
    chart.x = linear_axis(-0.05 * last, 1.05 * last, 5);
    chart.y = error_axis(chart.series);
    chart.zero_line = true;
    chart.words = title;
    out.emplace_back(title, themed(chart, words, measure, theme, "drift"));
    return out;
}

}  // namespace tipwright::page
