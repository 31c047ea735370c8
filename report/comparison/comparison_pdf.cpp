#include "report/comparison/comparison_pdf.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include "calib/base/rounding.hpp"
#include "report/certificate/chart.hpp"
#include "report/certificate/flow.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/record_pictures.hpp"
#include "report/certificate/table.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

constexpr int curve_points = 120;

struct Sheet {
    const Comparison& comparison;
    const Words& words;
    Numbers numbers;
    Flow& flow;

    std::string limit() const { return numbers.significant(comparison.request.limit_percent, 4); }
};

// Marker, filling and line differ from record to record.
struct LineStyle {
    Marker marker;
    bool filled;
    std::vector<unsigned> dash;
};

LineStyle style_of(std::size_t index) {
    constexpr Marker markers[] = {Marker::circle, Marker::square, Marker::triangle, Marker::diamond};
    const std::vector<unsigned> dashes[] = {{}, {5, 2}, {1, 2}, {6, 2, 1, 2}};
    return {markers[index % 4], index < 4, dashes[index % 4]};
}

std::string state_word(const Words& words, State state) {
    return words.text(state == State::as_found ? "title.as_found" : "title.as_left");
}

void draw_title(const Sheet& drawing) {
    Flow& flow = drawing.flow;
    const Words& words = drawing.words;
    flow.set_y(13 * mm);
    flow.paragraph(words.text("comparison.title"), {Face::bold, 18, ink});
    flow.paragraph(words.text("comparison.subtitle"), {Face::regular, 10, black});
    std::vector<std::string> marks{words.text("comparison.not_a_certificate")};
    const auto& records = drawing.comparison.records;
    const auto any = [&](const auto& has) { return std::any_of(records.begin(), records.end(), has); };
    if (any([](const ComparedRecord& r) { return r.invented; })) marks.push_back(words.text("mark.invented"));
    if (any([](const ComparedRecord& r) { return r.origin == Origin::virtual_bench; }))
        marks.push_back(words.text("mark.virtual_bench"));
    if (any([](const ComparedRecord& r) { return r.origin == Origin::supplied_data; }))
        marks.push_back(words.text("mark.supplied_data"));
    std::string text;
    for (const std::string& mark : marks) text += (text.empty() ? "" : "\n") + mark;
    const Style style{Face::bold, 8.4, black};
    const double height = flow.height_of(text, style, flow.width() - 16) + 9;
    flow.space(3);
    flow.canvas().rectangle(flow.left(), flow.y(), flow.width(), height, {1.2, black, {}});
    flow.draw_text(text, style, flow.left() + 8, flow.y() + 4, flow.width() - 16);
    flow.space(height);
}

std::string kept_words(const Sheet& drawing, const ComparedRecord& record) {
    const Words& words = drawing.words;
    const auto at = [&](double intensity) { return drawing.numbers.significant(intensity, 3); };
    if (!record.kept.kept_at_all)
        return words.text("comparison.kept_not", {{"from", at(record.kept.from_mm_h)}});
    return words.text(record.kept.kept_to_the_end ? "comparison.kept_to_end" : "comparison.kept_to",
                      {{"to", at(record.kept.to_mm_h)}});
}

void draw_records(const Sheet& drawing) {
    const Words& words = drawing.words;
    drawing.flow.heading(words.text("comparison.records"));
    Table table;
    table.columns = {{words.text("comparison.key"), 26, Align::centre},
                     {words.text("comparison.gauge"), 150, Align::left},
                     {words.text("comparison.state"), 60, Align::left},
                     {words.text("comparison.date"), 60, Align::left},
                     {words.text("comparison.number"), 84, Align::left},
                     {words.text("comparison.kept", {{"limit", drawing.limit()}}), 110, Align::left}};
    for (const ComparedRecord& record : drawing.comparison.records)
        table.rows.push_back({{record.key, record.name, state_word(words, record.state),
                               words.short_date(record.started_at.substr(0, 10)), record.number,
                               kept_words(drawing, record)}});
    draw_table(drawing.flow, table, words.decimal_sign());
    drawing.flow.paragraph(words.text(drawing.comparison.request.guarded ? "comparison.kept_note_guarded"
                                                                         : "comparison.kept_note",
                                      {{"limit", drawing.limit()}}),
                           small_style);
    for (const ComparedRecord& record : drawing.comparison.records) {
        if (record.left_out.empty()) continue;
        std::vector<std::string> steps;
        for (const int step : record.left_out) steps.push_back(std::to_string(step));
        drawing.flow.paragraph(
            words.text("comparison.left_out", {{"key", record.key}, {"steps", words.list(steps)}}));
    }
}

Chart chart_of(const Sheet& drawing) {
    const Words& words = drawing.words;
    const Comparison& comparison = drawing.comparison;
    Chart chart;
    chart.x_title = words.text("chart.intensity_x");
    chart.y_title = words.text("chart.error_y");
    chart.words = words.text("comparison.chart") + ". " + chart.y_title + " / " + chart.x_title;
    chart.zero_line = true;
    double x_low = 1e300, x_high = 0;
    double y_low = -comparison.request.limit_percent, y_high = comparison.request.limit_percent;
    for (std::size_t i = 0; i < comparison.records.size(); ++i) {
        const ComparedRecord& record = comparison.records[i];
        const LineStyle style = style_of(i);
        const auto& x = record.curve.errors.points.x;
        Series series;
        series.legend = words.text("comparison.legend", {{"key", record.key}, {"name", record.name}});
        series.marker = style.marker;
        series.filled = style.filled;
        for (double at : x) {
            const auto error = calib::error_at(record.curve, at);
            if (!error) continue;
            const double U = calib::expanded(*error, comparison.request.coverage).U;
            series.points.push_back({at, error->value, U});
            y_low = std::min(y_low, error->value - U);
            y_high = std::max(y_high, error->value + U);
        }
        x_low = std::min(x_low, x.front());
        x_high = std::max(x_high, x.back());
        Curve curve{"", {0.7, grey(0.25), style.dash}, {}};
        for (int n = 0; n <= curve_points; ++n) {
            const double at =
                x.front() * std::pow(x.back() / x.front(), static_cast<double>(n) / curve_points);
            curve.points.push_back(
                {at, record.curve.errors.curve.value(std::clamp(at, x.front(), x.back()))});
        }
        chart.series.push_back(std::move(series));
        chart.curves.push_back(std::move(curve));
    }
    chart.x = axis_for_rates(x_low, x_high);
    const double room = 0.06 * (y_high - y_low);
    chart.y = linear_axis(y_low - room, y_high + room, 8);
    chart.limits.push_back(
        {chart.x.low, chart.x.high, -comparison.request.limit_percent, comparison.request.limit_percent});
    chart.limit_legend = words.text("comparison.limits", {{"limit", drawing.limit()}});
    return chart;
}

// One row for each intensity, one column for each record from `first` on.
void draw_grid(const Sheet& drawing, const std::string& heading, const std::string& note, std::size_t first,
               const std::function<std::string(const ComparedError&)>& cell) {
    const Words& words = drawing.words;
    drawing.flow.heading(heading);
    Table table;
    table.caption = note;
    table.caption_style = small_style;
    table.columns.push_back({words.text("comparison.intensity"), 44, Align::number});
    for (std::size_t i = first; i < drawing.comparison.records.size(); ++i)
        table.columns.push_back({drawing.comparison.records[i].key, 56, Align::centre});
    for (const ComparedIntensity& row : drawing.comparison.intensities) {
        TableRow cells;
        cells.cells.push_back(drawing.numbers.significant(row.intensity_mm_h, 4));
        bool any = false;
        for (std::size_t i = first; i < row.errors.size(); ++i) {
            const std::string text = row.errors[i] ? cell(*row.errors[i]) : "";
            cells.cells.push_back(text.empty() ? "–" : text);
            any = any || !text.empty();
        }
        if (any) table.rows.push_back(std::move(cells));
    }
    if (table.rows.empty()) table.rows.push_back({std::vector<std::string>(table.columns.size(), "–")});
    draw_table(drawing.flow, table, words.decimal_sign());
}

void draw_errors(const Sheet& drawing) {
    const Words& words = drawing.words;
    const Numbers& numbers = drawing.numbers;
    draw_grid(drawing, words.text("comparison.errors"),
              words.text("comparison.errors_note",
                         {{"coverage", numbers.percent(drawing.comparison.request.coverage)}}),
              0, [&](const ComparedError& error) {
                  const auto pair = numbers.pair(error.percent.value, {0, error.U_percent, 0});
                  return words.text("comparison.error_cell", {{"e", pair.value}, {"U", pair.U}});
              });
    draw_grid(drawing, words.text("comparison.en", {{"key", drawing.comparison.records.front().key}}),
              words.text("comparison.en_note"), 1, [&](const ComparedError& error) {
                  return error.en ? numbers.fixed(*error.en, 2) : std::string();
              });
}

void draw_drift(const Sheet& drawing) {
    if (drawing.comparison.drifts.empty()) return;
    const Words& words = drawing.words;
    drawing.flow.heading(words.text("comparison.drift"));
    Table table;
    table.caption = words.text("comparison.drift_note");
    table.caption_style = small_style;
    table.columns = {{words.text("comparison.serial"), 140, Align::left},
                     {words.text("comparison.intensity"), 60, Align::number},
                     {words.text("comparison.stretches"), 60, Align::centre},
                     {words.text("comparison.per_year"), 70, Align::number},
                     {words.text("comparison.U_per_year"), 70, Align::number},
                     {words.text("comparison.significant"), 70, Align::centre}};
    for (const GaugeDrift& drift : drawing.comparison.drifts) {
        const auto pair =
            drawing.numbers.pair(drift.drift.percent_per_year.value, {0, drift.drift.U_percent_per_year, 0});
        table.rows.push_back({{drift.serial, drawing.numbers.significant(drift.intensity_mm_h, 4),
                               std::to_string(drift.drift.stretches), pair.value, pair.U,
                               words.text(drift.drift.significant ? "model.yes" : "model.no")}});
    }
    draw_table(drawing.flow, table, words.decimal_sign());
}

Outcome few_enough(const Comparison& comparison) {
    if (comparison.records.size() <= max_drawn_records) return Done{};
    return Fault{FaultCode::bad_value, std::to_string(comparison.records.size()) + " records in one chart",
                 "comparison", "draw at most " + std::to_string(max_drawn_records) + ", or ask for the CSV"};
}

}  // namespace

Result<std::string> comparison_picture(const Comparison& comparison, const Stationery& paper) {
    if (auto few = few_enough(comparison); !few) return few.fault();
    auto canvas = Canvas::open(paper.fonts, 210 * mm, 297 * mm);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Sheet drawing{comparison, paper.words, Numbers(paper.words), flow};
    return chart_picture(chart_of(drawing), paper.words, **canvas, {}, Theme::paper, "comparison");
}

Result<std::string> draw_comparison(const Comparison& comparison, const Stationery& paper) {
    if (auto few = few_enough(comparison); !few) return few.fault();
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Sheet drawing{comparison, paper.words, Numbers(paper.words), flow};
    draw_title(drawing);
    draw_records(drawing);
    constexpr double chart_height = 300;
    flow.heading(paper.words.text("comparison.chart"));
    flow.need(chart_height);
    draw_chart(flow, chart_of(drawing), chart_height,
               [&](const std::string& plain) { return paper.words.number(plain); });
    draw_errors(drawing);
    draw_drift(drawing);
    (*canvas)->decoration(true);
    draw_page_feet(drawing.flow, drawing.words, drawing.words.text("comparison.not_a_certificate"));
    const auto pages = (*canvas)->finish();
    if (!pages) return pages.fault();
    DocumentInfo info;
    info.title = paper.words.text("comparison.title");
    info.creator = "tipwright";
    info.language = paper.words.language();
    info.date = comparison.records.back().started_at;
    return finish_pdf(*pages, {}, info, (*canvas)->structure());
}

}  // namespace tipwright::report
