#include "bench/page/views/run_charts.hpp"

#include <algorithm>

#include "bench/page/views/page_chart.hpp"
#include "calib/decision/evaluation.hpp"
#include "report/certificate/record_pictures.hpp"

namespace tipwright::page {

namespace {

using namespace report::certificate;

constexpr double minutes_shown = 15;
constexpr double seconds_per_minute = 60;
// More points than a picture has room for only make it heavy.
constexpr std::size_t most_points = 240;
}  // namespace

std::vector<std::pair<std::string, std::string>> step_charts(const LiveRun& run, const PageWords& words,
                                                             Drawing& measure, const std::string& prefix) {
    std::vector<std::pair<std::string, std::string>> out;
    if (!run.begun() || run.so_far().observations.empty()) return out;
    const bench::ReplayedRun& so_far = run.so_far();
    auto evaluation =
        calib::evaluate(so_far.observations, so_far.gauge.gauge, so_far.bench.metrology, so_far.plan.plan);
    if (!evaluation) return out;
    report::Record record;
    if (so_far.as_left.value_or(false)) record.state = report::State::as_left;
    record.gauge = so_far.gauge.gauge;
    record.plan = so_far.plan.plan;
    record.bench = so_far.bench.metrology;
    record.evaluation = std::move(*evaluation);
    report::CertificateOptions options;
    options.words = words.certificate();
    const auto broad = record_pictures(record, options, measure, broad_chart, Theme::page, prefix);
    const auto narrow =
        record_pictures(record, options, measure, narrow_chart, Theme::page, prefix + "-narrow");
    for (std::size_t k = 0; k < broad.size(); ++k)
        out.emplace_back(broad[k].title, by_width(broad[k].svg, narrow[k].svg));
    return out;
}

std::string minutes_chart(const LiveRun& run, const PageWords& words, Drawing& measure,
                          const std::string& prefix) {
    const LiveRun::Minutes minutes = run.last_minutes(minutes_shown * seconds_per_minute);
    if (minutes.weights.size() < 2) return "";
    const double now_s = minutes.weights.back().time_s;
    Chart chart;
    chart.x_title = words.text("run.minutes_x");
    chart.y_title = words.text("run.minutes_y");
    chart.words = words.text("run.minutes");
    Curve weight{words.text("run.minutes_weight"), {0.9, black, {}}, {}};
    double low = minutes.weights.front().mass_g;
    double high = low;
    const std::size_t stride = minutes.weights.size() / most_points + 1;
    for (std::size_t k = 0; k < minutes.weights.size(); ++k) {
        const auto& point = minutes.weights[k];
        low = std::min(low, point.mass_g);
        high = std::max(high, point.mass_g);
        if (k % stride != 0 && k + 1 != minutes.weights.size()) continue;
        weight.points.push_back({(point.time_s - now_s) / seconds_per_minute, point.mass_g});
    }
    if (!(high - low > 1)) high = low + 1;
    chart.y = linear_axis(low, high + 0.05 * (high - low), 5);
    const double from = (minutes.weights.front().time_s - now_s) / seconds_per_minute;
    chart.x = linear_axis(std::min(from, -0.5), 0, 6);
    Series tips;
    tips.legend = words.text("run.minutes_tips");
    tips.marker = Marker::triangle;
    const std::size_t tip_stride = minutes.tips_s.size() / most_points + 1;
    for (std::size_t k = 0; k < minutes.tips_s.size(); k += tip_stride) {
        const double x = (minutes.tips_s[k] - now_s) / seconds_per_minute;
        if (x >= chart.x.low && x <= 0) tips.points.push_back({x, chart.y.low, 0});
    }
    chart.curves.push_back(std::move(weight));
    if (!tips.points.empty()) chart.series.push_back(std::move(tips));
    return page_chart(chart, words, measure, prefix + "-minutes", Lower::yes);
}

}  // namespace tipwright::page
