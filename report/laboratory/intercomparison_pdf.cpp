#include <algorithm>

#include "report/certificate/numbers.hpp"
#include "report/certificate/table.hpp"
#include "report/laboratory/intercomparison_report.hpp"
#include "report/laboratory/laboratory_pages.hpp"

namespace tipwright::report {

using namespace certificate;

namespace {

std::string judgement(const calib::ParticipantScore& score, const Words& words) {
    if (score.agrees)
        return words.text(*score.agrees ? "intercomparison.agrees" : "intercomparison.disagrees");
    if (!score.by_z) return {};
    return words.text("intercomparison." +
                      std::string(calib::score_names[static_cast<std::size_t>(*score.by_z)]));
}

void draw_place(Flow& flow, const ComparedPlace& place, const Words& words, const Numbers& numbers) {
    const auto& scores = place.scores;
    const auto& assigned = scores.assigned;
    flow.heading(place.at.empty() ? words.text("intercomparison.assigned")
                                  : words.text("intercomparison.at", {{"at", place.at}}));
    const auto pair = numbers.pair(assigned.value, {assigned.k, assigned.U, 0});
    flow.paragraph(
        assigned.consensus
            ? words.text(
                  "intercomparison.consensus",
                  {{"value", pair.value}, {"U", pair.U}, {"s", numbers.significant(assigned.robust_sd, 3)}})
            : words.text("intercomparison.reference", {{"value", pair.value}, {"U", pair.U}}));
    if (scores.z_includes_u) flow.paragraph(words.text("intercomparison.z_widened"));
    flow.need(180);
    draw_chart(flow, intercomparison_picture(place, words), 180,
               [&](const std::string& plain) { return words.number(plain); });
    Table table;
    table.columns = {{words.text("intercomparison.participant"), 110, Align::left},
                     {words.text("intercomparison.value"), 60, Align::number},
                     {"U", 50, Align::number},
                     {words.text("intercomparison.difference"), 60, Align::number},
                     {"E~n~", 45, Align::number},
                     {"ζ", 45, Align::number},
                     {"z", 45, Align::number},
                     {words.text("intercomparison.judgement"), 90, Align::left}};
    const auto shown = [&](const std::optional<double>& value) {
        return value ? numbers.fixed(*value, 2) : std::string();
    };
    for (std::size_t i = 0; i < place.participants.size(); ++i) {
        const auto& one = place.participants[i];
        const auto& score = scores.scores[i];
        const auto own = numbers.pair(one.value, {one.k, one.U.value_or(0), 0});
        table.rows.push_back(
            {{std::to_string(i + 1) + "  " + one.name, one.U ? own.value : numbers.significant(one.value, 5),
              one.U ? own.U : "", numbers.significant(score.difference, 3), shown(score.en),
              shown(score.zeta), shown(score.z), judgement(score, words)},
             false,
             false});
    }
    draw_table(flow, table, words.decimal_sign());
}

}  // namespace

Chart intercomparison_picture(const ComparedPlace& place, const Words& words) {
    Chart chart;
    chart.words = words.text("intercomparison.title");
    chart.x_title = words.text("intercomparison.number");
    chart.y_title = words.text("intercomparison.value");
    const auto& assigned = place.scores.assigned;
    const double last = static_cast<double>(place.participants.size()) + 0.5;
    double low = assigned.value - assigned.U, high = assigned.value + assigned.U;
    Series results{words.text("intercomparison.participant"), Marker::circle, true, {}};
    for (std::size_t i = 0; i < place.participants.size(); ++i) {
        const auto& one = place.participants[i];
        const double U = one.U.value_or(0);
        results.points.push_back({static_cast<double>(i) + 1, one.value, U});
        low = std::min(low, one.value - U);
        high = std::max(high, one.value + U);
    }
    if (!(high > low)) high = low + 1;
    Band band{words.text("intercomparison.assigned"),
              {{0.5, assigned.value - assigned.U}, {last, assigned.value - assigned.U}},
              {{0.5, assigned.value + assigned.U}, {last, assigned.value + assigned.U}}};
    Curve middle;
    middle.stroke.width = 0.9;
    middle.stroke.colour = grey(0.25);
    middle.points = {{0.5, assigned.value}, {last, assigned.value}};
    chart.x = linear_axis(0, last + 0.5,
                          static_cast<int>(std::min<std::size_t>(10, place.participants.size() + 1)));
    const double room = 0.05 * (high - low);
    chart.y = linear_axis(low - room, high + room, 6);
    chart.bands.push_back(std::move(band));
    chart.curves.push_back(std::move(middle));
    chart.series.push_back(std::move(results));
    return chart;
}

Result<std::string> draw_intercomparison(const IntercomparisonReport& report, const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Words& words = paper.words;
    const Numbers numbers(words);
    draw_laboratory_title(
        flow, words,
        {words.text("intercomparison.title"), words.text("intercomparison.subtitle"),
         words.text("intercomparison.not_a_certificate"), report.invented, Origin::real_bench});
    for (const ComparedPlace& place : report.places) draw_place(flow, place, words, numbers);
    flow.heading(words.text("laboratory.method"));
    flow.paragraph(words.text("intercomparison.method"));
    return finish_laboratory(**canvas, flow, words, words.text("intercomparison.title"), "");
}

}  // namespace tipwright::report
