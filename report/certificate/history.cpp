// How the gauge fared from calibration to calibration: errors over each other, and the drift found.
#include <algorithm>
#include <array>

#include "report/certificate/chart.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr std::size_t most_shown = 4;

// As the gauge came, where that is shown: what it was before is compared with that.
const Record& as_it_came(const Content& content) {
    return content.as_found() ? *content.as_found() : content.record;
}

std::string name_of(const Content& content, const std::string& on, State state) {
    return content.words.text("history.calibration",
                              {{"date", content.words.date(on)}, {"state", content.state_word(state)}});
}

Chart history_chart(const Content& content, const std::vector<EarlierErrors>& shown) {
    constexpr std::array markers{Marker::square, Marker::triangle, Marker::diamond, Marker::circle};
    const std::array<Stroke, most_shown> strokes{
        Stroke{0.6, grey(0.35), {1, 2}}, Stroke{0.6, grey(0.35), {4, 2}},
        Stroke{0.6, grey(0.35), {8, 2, 1, 2}}, Stroke{0.6, grey(0.35), {8, 3}}};
    Chart chart;
    chart.y_title = content.words.text("chart.error_y");
    chart.x_title = content.words.text("chart.intensity_x");
    chart.zero_line = true;
    double x_low = 1e300, x_high = 0, y_low = 0, y_high = 0;
    const auto take = [&](const ChartPoint& point) {
        x_low = std::min(x_low, point.x);
        x_high = std::max(x_high, point.x);
        y_low = std::min(y_low, point.y - point.U);
        y_high = std::max(y_high, point.y + point.U);
    };
    for (std::size_t i = 0; i < shown.size(); ++i) {
        Series series{name_of(content, shown[i].on, shown[i].state), markers[i], false, {}};
        Curve joined{"", strokes[i], {}};
        for (const EarlierErrors::Point& point : shown[i].points) {
            series.points.push_back({point.reference_mm_h, point.error_percent, point.U_percent});
            joined.points.push_back({point.reference_mm_h, point.error_percent});
            take(series.points.back());
        }
        chart.series.push_back(std::move(series));
        chart.curves.push_back(std::move(joined));
    }
    const Record& now = as_it_came(content);
    Series series{
        content.words.text("history.now", {{"state", content.state_word(now)}}), Marker::circle, true, {}};
    for (const calib::StepResult& step : now.evaluation.steps) {
        series.points.push_back(
            {step.reference_intensity_mm_h->value, step.error_percent.value, step.error_expanded.U});
        take(series.points.back());
    }
    chart.series.push_back(std::move(series));
    chart.x = axis_for_rates(x_low, x_high);
    const double room = std::max(0.5, 0.06 * (y_high - y_low));
    chart.y = linear_axis(y_low - room, y_high + room, 6);
    return chart;
}

}  // namespace

void draw_history(Content& content) {
    std::vector<EarlierErrors> shown = content.options.history;
    std::erase_if(shown, [](const EarlierErrors& earlier) { return earlier.points.empty(); });
    if (shown.empty() || content.is_static()) return;
    if (shown.size() > most_shown) shown.erase(shown.begin(), shown.end() - most_shown);
    constexpr double height = 180;
    Flow& flow = content.flow;
    const Words& words = content.words;
    flow.heading(words.text("history.heading"));
    flow.need(height + 16);
    Chart chart = history_chart(content, shown);
    chart.words = words_of(content, words.text("history.heading"), chart);
    draw_chart(flow, chart, height, [&](const std::string& plain) { return words.number(plain); });
    std::vector<std::string> numbers;
    numbers.reserve(shown.size());
    for (const EarlierErrors& earlier : shown)
        numbers.push_back(name_of(content, earlier.on, earlier.state) + ": " + earlier.number);
    flow.list(numbers, small_style);
}

}  // namespace tipwright::report::certificate
