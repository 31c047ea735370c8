// Pictures of a check gauge: errors against their limits, weighted means, capabilities.
#include <algorithm>
#include <cmath>

#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

Curve line_at(const std::string& legend, double y, double last, std::vector<unsigned> dash) {
    Curve out;
    out.legend = legend;
    out.stroke.width = 0.9;
    out.stroke.colour = grey(0.25);
    out.stroke.dash = std::move(dash);
    out.points = {{0.5, y}, {last, y}};
    return out;
}

Chart empty_chart(const calib::CheckAnalysis& analysis, const Words& words) {
    Chart chart;
    chart.x_title = words.text("laboratory.run");
    chart.y_title = words.text("laboratory.error");
    chart.x = linear_axis(0, static_cast<double>(analysis.moments.size()) + 1, 10);
    return chart;
}

}  // namespace

Chart control_picture(const LaboratoryReport& report, const Words& words) {
    const calib::ControlChart& control = report.analysis.charts.front().chart;
    Chart chart = empty_chart(report.analysis, words);
    chart.words = words.text("laboratory.chart");
    const double last = static_cast<double>(control.values.size()) + 0.5;
    Series quiet{words.text("laboratory.in_order"), Marker::circle, true, {}};
    Series loud{words.text("laboratory.signal"), Marker::diamond, false, {}};
    double low = control.centre - control.limit, high = control.centre + control.limit;
    for (std::size_t i = 0; i < control.values.size(); ++i) {
        const bool signal = std::any_of(control.signals.begin(), control.signals.end(),
                                        [&](const calib::ControlSignal& one) { return one.at == i; });
        (signal ? loud : quiet).points.push_back({static_cast<double>(i) + 1, control.values[i], 0});
        low = std::min(low, control.values[i]);
        high = std::max(high, control.values[i]);
    }
    chart.y = linear_axis(low, high, 6);
    chart.series.push_back(std::move(quiet));
    if (!loud.points.empty()) chart.series.push_back(std::move(loud));
    chart.curves.push_back(line_at(words.text("laboratory.centre"), control.centre, last, {}));
    chart.curves.push_back(
        line_at(words.text("laboratory.limits"), control.centre + control.limit, last, {5, 2}));
    chart.curves.push_back(line_at("", control.centre - control.limit, last, {5, 2}));
    return chart;
}

Chart weighted_picture(const LaboratoryReport& report, const Words& words) {
    const calib::ControlChart& control = report.analysis.charts.front().chart;
    Chart chart = empty_chart(report.analysis, words);
    chart.words = words.text("laboratory.weighted_chart");
    Series means{words.text("laboratory.weighted"), Marker::triangle, true, {}};
    Curve upper = line_at(words.text("laboratory.limits"), 0, 0, {5, 2}), lower = line_at("", 0, 0, {5, 2});
    upper.points.clear();
    lower.points.clear();
    double low = control.centre, high = control.centre;
    for (std::size_t i = 0; i < control.weighted.size(); ++i) {
        const double x = static_cast<double>(i) + 1, off = control.weighted_limit[i];
        means.points.push_back({x, control.weighted[i], 0});
        upper.points.push_back({x, control.centre + off});
        lower.points.push_back({x, control.centre - off});
        low = std::min({low, control.weighted[i], control.centre - off});
        high = std::max({high, control.weighted[i], control.centre + off});
    }
    chart.y = linear_axis(low, high, 6);
    chart.series.push_back(std::move(means));
    chart.curves.push_back(line_at(words.text("laboratory.centre"), control.centre,
                                   static_cast<double>(control.weighted.size()) + 0.5, {}));
    chart.curves.push_back(std::move(upper));
    chart.curves.push_back(std::move(lower));
    return chart;
}

Chart capability_picture(const LaboratoryReport& report, const Words& words) {
    Chart chart;
    const auto& all = report.analysis.capabilities;
    chart.words = words.text("laboratory.capability_chart");
    chart.x_title = words.text("laboratory.intensity");
    chart.y_title = words.text("laboratory.percent");
    Series claimed{words.text("laboratory.claimed"), Marker::square, true, {}};
    Series seen{words.text("laboratory.seen"), Marker::triangle, false, {}};
    double highest = 0;
    for (const auto& one : all) {
        claimed.points.push_back({one.intensity_mm_h, one.U_percent, 0});
        seen.points.push_back({one.intensity_mm_h, 2 * one.precision_percent, 0});
        highest = std::max({highest, one.U_percent, 2 * one.precision_percent});
    }
    chart.x = axis_for_rates(all.front().intensity_mm_h, all.back().intensity_mm_h);
    chart.y = linear_axis(0, 1.05 * highest, 6);
    chart.series.push_back(std::move(claimed));
    chart.series.push_back(std::move(seen));
    return chart;
}

}  // namespace tipwright::report
