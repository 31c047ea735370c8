// The two charts: error of indication against reference intensity, and volume per tip against flow.
#include <algorithm>
#include <cmath>
#include <optional>

#include "report/certificate/chart.hpp"
#include "report/certificate/record_pictures.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

using calib::StepResult;

constexpr double seconds_per_minute = 60;
constexpr int curve_points = 160;
constexpr double chart_title_height = 16;

const Stroke fit_stroke{0.8, grey(0.15), {}};
const Stroke joined_stroke{0.8, grey(0.15), {3, 2}};
const Stroke nominal_stroke{0.7, grey(0.3), {8, 2, 1, 2}};

struct Span {
    double low = 1e300;
    double high = -1e300;
    void take(double value) {
        low = std::min(low, value);
        high = std::max(high, value);
    }
};

// Room above and below, and never a span of nothing.
Axis y_axis(const Span& span, double least_span, int wanted) {
    double room = 0.06 * (span.high - span.low);
    if (span.high - span.low < least_span) room = (least_span - (span.high - span.low)) / 2;
    return linear_axis(span.low - room, span.high + room, wanted);
}

std::string form_word(const Words& words, calib::RateForm form) {
    return words.text("model." + calib::name_of(form));
}

std::string points_legend(const Facts& content, const Record& record) {
    return content.words.text("chart.points", {{"state", content.state_word(record)}});
}

Series series_of(const Facts& content, const Record& record, std::size_t which) {
    Series series;
    series.legend = points_legend(content, record);
    // As left, or the only state: filled circles. As found beside it: open squares.
    const bool before = which + 1 < content.states().size();
    series.marker = before ? Marker::square : Marker::circle;
    series.filled = !before;
    if (before) {
        // Both states were run at the same rates: their bars would lie over each other.
        constexpr double beside = -6;
        series.shift = beside;
        series.legend = content.words.text("chart.set_apart", {{"legend", series.legend}});
    }
    return series;
}

std::vector<double> spread(double low, double high, bool logarithmic) {
    std::vector<double> out;
    for (int i = 0; i <= curve_points; ++i) {
        const double share = static_cast<double>(i) / curve_points;
        out.push_back(logarithmic ? low * std::pow(high / low, share) : low + share * (high - low));
    }
    return out;
}

void add_limits(const Facts& content, Chart& chart, Span& y) {
    const calib::Limits& limits = content.record.evaluation.conformity.limits;
    for (const calib::LimitRow& row : limits.rows) {
        if (row.to_mm_h < chart.x.low || row.from_mm_h > chart.x.high) continue;
        chart.limits.push_back({row.from_mm_h, row.to_mm_h, row.low_percent, row.high_percent});
        // Far limits would flatten the curve: they are then beyond the frame, which the legend still names.
        y.take(row.low_percent);
        y.take(row.high_percent);
    }
    if (!chart.limits.empty())
        chart.limit_legend = content.words.text("chart.limits", {{"limits", limits_words(content, limits)}});
}

Chart error_chart(const Facts& content) {
    const Words& words = content.words;
    const bool timed = !content.is_static();
    Chart chart;
    chart.y_title = words.text("chart.error_y");
    chart.x_title = words.text(timed ? "chart.intensity_x" : "chart.step_x");
    chart.zero_line = true;
    Span x;
    Span y;
    y.take(0);
    const auto states = content.states();
    for (std::size_t i = 0; i < states.size(); ++i) {
        Series series = series_of(content, *states[i], i);
        for (const StepResult& step : states[i]->evaluation.steps) {
            const double at = timed ? step.reference_intensity_mm_h->value : step.observation.step;
            series.points.push_back({at, step.error_percent.value, step.error_expanded.U});
            x.take(at);
            y.take(step.error_percent.value - step.error_expanded.U);
            y.take(step.error_percent.value + step.error_expanded.U);
        }
        chart.series.push_back(std::move(series));
    }
    if (timed) {
        chart.x = axis_for_rates(x.low, x.high);
        add_limits(content, chart, y);
    } else {
        chart.x.low = x.low - 0.5;
        chart.x.high = x.high + 0.5;
        for (int k = 0; x.low + k <= x.high; ++k)
            chart.x.ticks.push_back({x.low + k, std::to_string(static_cast<int>(x.low) + k)});
    }
    const auto& model = content.record.evaluation.model;
    if (timed && model && model->chosen_candidate()) {
        const calib::Gauge& gauge = content.record.gauge;
        const double area = gauge.catch_area_cm2().value;
        Curve curve{words.text("chart.fit_error"), fit_stroke, {}};
        for (double flow : spread(model->flow_min_mL_s, model->flow_max_mL_s, chart.x.logarithmic)) {
            const double error = 100 * (gauge.nominal_tip_mL() / model->volume_at(flow).value - 1);
            curve.points.push_back({calib::intensity_mm_h(flow * seconds_per_minute, area), error});
            y.take(error);
        }
        chart.curves.push_back(std::move(curve));
    }
    chart.y = y_axis(y, 1, 7);
    return chart;
}

void add_fit(const Facts& content, const calib::RateModel& model, Chart& chart, Span& y) {
    const Words& words = content.words;
    if (!model.chosen_candidate()) {
        Curve joined{words.text("chart.interpolation"), joined_stroke, {}};
        for (const calib::RatePoint& point : model.points)
            joined.points.push_back({point.flow_mL_s * seconds_per_minute, point.volume_mL.value});
        chart.curves.push_back(std::move(joined));
        return;
    }
    Curve fit{words.text("chart.fit_volume", {{"form", form_word(words, model.chosen)}}), fit_stroke, {}};
    Band band;
    band.legend = words.text("chart.band", {{"coverage", content.numbers.percent(content.coverage())}});
    for (double flow : spread(model.flow_min_mL_s, model.flow_max_mL_s, chart.x.logarithmic)) {
        const calib::Uncertain volume = model.volume_at(flow);
        const double U = calib::expanded(volume, content.coverage()).U;
        const double x = flow * seconds_per_minute;
        fit.points.push_back({x, volume.value});
        band.lower.push_back({x, volume.value - U});
        band.upper.push_back({x, volume.value + U});
        y.take(volume.value - U);
        y.take(volume.value + U);
    }
    chart.curves.push_back(std::move(fit));
    chart.bands.push_back(std::move(band));
}

Chart volume_chart(const Facts& content) {
    const Words& words = content.words;
    const Record& record = content.record;
    Chart chart;
    chart.x_title = words.text("chart.flow_x");
    chart.y_title = words.text("chart.volume_y");
    Span x;
    Span y;
    const auto states = content.states();
    for (std::size_t i = 0; i < states.size(); ++i) {
        Series series = series_of(content, *states[i], i);
        for (const StepResult& step : states[i]->evaluation.steps) {
            const double U = calib::expanded(step.volume_per_tip_mL, content.coverage()).U;
            series.points.push_back({step.flow_mL_min->value, step.volume_per_tip_mL.value, U});
            x.take(step.flow_mL_min->value);
            y.take(step.volume_per_tip_mL.value - U);
            y.take(step.volume_per_tip_mL.value + U);
        }
        chart.series.push_back(std::move(series));
    }
    // Linear: the line model is a straight line here, and a departure from it is seen.
    chart.x = linear_axis(0, 1.02 * x.high, 8);
    if (record.evaluation.model) add_fit(content, *record.evaluation.model, chart, y);
    const double nominal = record.gauge.nominal_tip_mL();
    y.take(nominal);
    chart.curves.push_back(
        {words.text("chart.nominal"), nominal_stroke, {{chart.x.low, nominal}, {chart.x.high, nominal}}});
    chart.y = y_axis(y, 0.02 * nominal, 6);
    return chart;
}

// Where U is below this share of the axis the bars vanish in their markers: a panel of residuals shows them.
constexpr double least_bar = 0.02;

// Errors less the fit, with U; nothing when the bars of `error` are seen or no form was fitted.
std::optional<Chart> residual_chart(const Facts& content, const Chart& error) {
    const auto& model = content.record.evaluation.model;
    if (content.is_static() || !model || !model->chosen_candidate()) return std::nullopt;
    double largest = 0;
    for (const Series& series : error.series)
        for (const ChartPoint& point : series.points) largest = std::max(largest, point.U);
    if (!(largest < least_bar * (error.y.high - error.y.low))) return std::nullopt;
    Chart chart;
    chart.x_title = error.x_title;
    chart.y_title = content.words.text("chart.residual_y");
    chart.x = error.x;
    chart.zero_line = true;
    const double area = content.record.gauge.catch_area_cm2().value;
    Series series = series_of(content, content.record, content.states().size() - 1);
    Span y;
    y.take(0);
    for (const StepResult& step : content.record.evaluation.steps) {
        const double I = step.reference_intensity_mm_h->value;
        const double flow = calib::flow_mL_min(I, area) / seconds_per_minute;
        const double fit = 100 * (content.record.gauge.nominal_tip_mL() / model->volume_at(flow).value - 1);
        const double residual = step.error_percent.value - fit;
        series.points.push_back({I, residual, step.error_expanded.U});
        y.take(residual - step.error_expanded.U);
        y.take(residual + step.error_expanded.U);
    }
    chart.series.push_back(std::move(series));
    chart.y = y_axis(y, 0.02, 4);
    return chart;
}

}  // namespace

std::string words_of(const Facts& content, const std::string& title, const Chart& chart) {
    const auto number = [&](double value) { return content.numbers.significant(value, 4); };
    std::string out = title + ". " + chart.y_title + " / " + chart.x_title;
    for (const Series& series : chart.series) {
        out += ". " + series.legend + ": ";
        for (std::size_t i = 0; i < series.points.size(); ++i)
            out += (i > 0 ? "; " : "") + number(series.points[i].x) + ": " + number(series.points[i].y);
    }
    for (const Curve& curve : chart.curves) out += ". " + curve.legend;
    if (!chart.limit_legend.empty()) out += ". " + chart.limit_legend;
    return without_marks(out);
}

std::vector<NamedPicture> record_pictures(const Record& record, const CertificateOptions& options,
                                          Drawing& measure, PictureSize size, Theme theme,
                                          const std::string& prefix) {
    const Facts facts{record, options, options.words, Numbers(options.words)};
    const Words& words = options.words;
    std::vector<NamedPicture> out;
    if (!facts.has_charts()) return out;
    const auto add = [&](const std::string& name, const std::string& title, Chart chart) {
        chart.words = words_of(facts, title, chart);
        out.push_back({name, title, chart_picture(chart, words, measure, size, theme, prefix + "-" + name)});
    };
    const Chart error = error_chart(facts);
    add("error", words.text(facts.is_static() ? "chart.error_title_static" : "chart.error_title"), error);
    if (auto residuals = residual_chart(facts, error))
        add("residuals", words.text("chart.residual_title"), std::move(*residuals));
    if (!facts.is_static()) add("volume", words.text("chart.volume_title"), volume_chart(facts));
    return out;
}

std::string chart_picture(const Chart& chart, const Words& words, Drawing& measure, PictureSize size,
                          Theme theme, const std::string& id) {
    ChartPlace place{2, size.width - 2, 2, size.height - 2};
    if (size.legend_apart) place.height += legend_height(measure, place, chart);
    Picture picture(measure, size.width, place.height + 2, theme);
    draw_chart(picture, place, chart, [&](const std::string& plain) { return words.number(plain); });
    return picture.finish(chart.words, id);
}

bool has_room_for_error_chart(const Content& content, double height) {
    return !content.has_charts() || content.flow.room() >= chart_title_height + height;
}

void draw_error_chart(Content& content) {
    if (!content.has_charts()) return;
    constexpr double tall = 222;
    constexpr double on_a_new_page = 140;  // where what the standard asks for must have room below it
    Flow& flow = content.flow;
    const Words& words = content.words;
    const std::string title =
        words.text(content.is_static() ? "chart.error_title_static" : "chart.error_title");
    // On the page of its table where it is not squeezed too much for that.
    const bool here = has_room_for_error_chart(content, lowest_error_chart);
    flow.need(chart_title_height + lowest_error_chart);
    flow.paragraph(title, strong_style);
    Chart error = error_chart(content);
    error.words = words_of(content, title, error);
    draw_chart(flow, error, std::min(here ? tall : on_a_new_page, flow.room()),
               [&](const std::string& plain) { return words.number(plain); });
}

void draw_charts(Content& content) {
    if (content.is_static()) return;
    constexpr double panel = 120;
    constexpr double tall = 222;
    Flow& flow = content.flow;
    const Words& words = content.words;
    const auto draw = [&](const char* title, Chart chart, double height) {
        flow.need(chart_title_height + height);
        flow.paragraph(words.text(title), strong_style);
        chart.words = words_of(content, words.text(title), chart);
        draw_chart(flow, chart, height, [&](const std::string& plain) { return words.number(plain); });
        flow.space(4);
    };
    flow.heading(words.text("chart.heading"));
    if (auto residuals = residual_chart(content, error_chart(content)))
        draw("chart.residual_title", std::move(*residuals), panel);
    draw("chart.volume_title", volume_chart(content), tall);
}

}  // namespace tipwright::report::certificate
