#include "report/trial/trial_pdf.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "report/certificate/chart.hpp"
#include "report/certificate/flow.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/table.hpp"
#include "report/trial/trial_tables.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;
using namespace calib::trial;

constexpr int curve_points = 100;
// Points: heading, sentence on the rain and the table's head; a row; what fits on a page of either paper.
constexpr double place_head_height = 120;
constexpr double place_row_height = 13.5;
constexpr double place_height_most = 600;

constexpr std::array amount_keys{"trial.year", "trial.max_1", "trial.max_5", "trial.max_60"};
constexpr std::array way_keys{"trial.as_indicated", "trial.by_kind", "trial.by_certificate"};
constexpr std::array shown_amounts{Amount::year, Amount::max_60_min, Amount::max_5_min, Amount::max_1_min};

struct Sheet {
    const Trial& trial;
    const Words& words;
    Numbers numbers;
    Flow& flow;

    std::string limit() const { return numbers.significant(trial.request.limit_percent, 4); }
    std::string amount() const { return words.text(amount_keys[static_cast<std::size_t>(trial.request.by)]); }
    std::string way() const {
        return words.text(way_keys[static_cast<std::size_t>(trial.request.corrected)]);
    }
    std::string two(double value) const { return std::isfinite(value) ? numbers.fixed(value, 2) : "∞"; }
    std::string one(double value) const { return std::isfinite(value) ? numbers.fixed(value, 1) : "∞"; }
    std::string interval(double value, double low, double high, int decimals) const {
        return words.text("trial.interval", {{"value", numbers.fixed(value, decimals)},
                                             {"low", numbers.fixed(low, decimals)},
                                             {"high", numbers.fixed(high, decimals)}});
    }
    std::string interval(const SpreadInterval& spread) const {
        return interval(spread.sd, spread.low, spread.high, 2);
    }
    std::string interval(const EventRate& rate) const {
        return interval(rate.per_unit, rate.low, rate.high, 3);
    }
    char decimal() const { return words.decimal_sign(); }
};

std::string choice_words(const Sheet& sheet, const TrialPlace& place) {
    const Words& words = sheet.words;
    const Choice& choice = place.choice;
    if (sheet.trial.kinds.size() < 2) return words.text("trial.one_kind");
    const std::string kind = sheet.trial.kinds[choice.kind].kind;
    const std::string p = sheet.numbers.probability(choice.probability);
    if (choice.supported)
        return words.text("trial.supported", {{"place", place.site.title},
                                              {"kind", kind},
                                              {"p", p},
                                              {"amount", sheet.amount()},
                                              {"way", sheet.way()}});
    std::string out = words.text("trial.undecided", {{"place", place.site.title},
                                                     {"kind", kind},
                                                     {"p", p},
                                                     {"amount", sheet.amount()},
                                                     {"way", sheet.way()}});
    if (choice.specimens)
        out += " " + words.text("trial.more_specimens", {{"n", std::to_string(*choice.specimens)}});
    if (choice.runs) out += " " + words.text("trial.more_runs", {{"n", std::to_string(*choice.runs)}});
    if (!choice.specimens && !choice.runs)
        out += " " + words.text("trial.more_neither",
                                {{"n", std::to_string(most_specimens)}, {"runs", std::to_string(most_runs)}});
    else if (!choice.runs)
        out += " " + words.text("trial.runs_would_not");
    return out;
}

void draw_title(const Sheet& sheet) {
    Flow& flow = sheet.flow;
    const Words& words = sheet.words;
    flow.set_y(13 * mm);
    flow.paragraph(words.text("trial.title"), {Face::bold, 18, ink});
    flow.paragraph(words.text("trial.subtitle", {{"kinds", std::to_string(sheet.trial.kinds.size())},
                                                 {"records", std::to_string(sheet.trial.records)},
                                                 {"from", words.short_date(sheet.trial.from.substr(0, 10))},
                                                 {"to", words.short_date(sheet.trial.to.substr(0, 10))}}),
                   {Face::regular, 10, black});
    std::string marks = words.text("trial.not_a_certificate");
    if (sheet.trial.invented) marks += "\n" + words.text("mark.invented");
    if (sheet.trial.virtual_bench) marks += "\n" + words.text("mark.virtual_bench");
    if (sheet.trial.supplied) marks += "\n" + words.text("mark.supplied_data");
    const Style style{Face::bold, 8.4, black};
    const double height = flow.height_of(marks, style, flow.width() - 16) + 9;
    flow.space(3);
    flow.canvas().rectangle(flow.left(), flow.y(), flow.width(), height, {1.2, black, {}});
    flow.draw_text(marks, style, flow.left() + 8, flow.y() + 4, flow.width() - 16);
    flow.space(height);
}

void draw_brief(const Sheet& sheet) {
    const Words& words = sheet.words;
    sheet.flow.heading(words.text("trial.brief"));
    std::vector<std::string> items;
    for (const TrialPlace& place : sheet.trial.places) items.push_back(choice_words(sheet, place));
    sheet.flow.list(items);
    Table table;
    table.columns = {
        {words.text("trial.kind"), 100, Align::left},
        {words.text("trial.specimens"), 46, Align::centre},
        {words.text("trial.runs"), 36, Align::centre},
        {words.text("comparison.state"), 52, Align::left},
        {words.text("trial.kept", {{"limit", sheet.limit()},
                                   {"p", sheet.numbers.percent(sheet.trial.request.probability)}}),
         130, Align::left}};
    for (const TrialKind& kind : sheet.trial.kinds) {
        const std::string kept =
            !kind.kept.at_all
                ? words.text("comparison.kept_not",
                             {{"from", sheet.numbers.significant(kind.model.knots_mm_h.front(), 3)}})
                : words.text(kind.kept.to_the_end ? "comparison.kept_to_end" : "comparison.kept_to",
                             {{"to", sheet.numbers.significant(kind.kept.to_mm_h, 3)}});
        table.rows.push_back(
            {{kind.kind, std::to_string(kind.model.specimens), std::to_string(kind.model.runs),
              words.text(kind.state == State::as_left ? "title.as_left" : "title.as_found"), kept}});
    }
    draw_table(sheet.flow, table, sheet.decimal());
    for (const LeftOut& left : sheet.trial.left_out)
        sheet.flow.paragraph(words.text("trial.left_out", {{"what", left.what}, {"why", left.why}}),
                             small_style);
}

void draw_curves(const Sheet& sheet) {
    const Words& words = sheet.words;
    sheet.flow.heading(words.text("trial.curves"));
    Chart chart;
    chart.x_title = words.text("chart.intensity_x");
    chart.y_title = words.text("chart.error_y");
    chart.words = words.text("trial.curves") + ". " + chart.y_title + " / " + chart.x_title;
    chart.zero_line = true;
    constexpr Marker markers[] = {Marker::circle, Marker::square, Marker::triangle, Marker::diamond};
    const std::vector<unsigned> dashes[] = {{}, {5, 2}, {1, 2}, {6, 2, 1, 2}};
    double x_low = 1e300, x_high = 0;
    double y_low = -sheet.trial.request.limit_percent, y_high = sheet.trial.request.limit_percent;
    for (std::size_t k = 0; k < sheet.trial.kinds.size(); ++k) {
        const TrialKind& kind = sheet.trial.kinds[k];
        Series series;
        series.legend = kind.kind;
        series.marker = markers[k % 4];
        series.filled = k < 4;
        for (const CurveValue& at : kind.curve) {
            const double half = std::min((at.high - at.low) / 2, 4 * sheet.trial.request.limit_percent);
            series.points.push_back({at.intensity_mm_h, at.mean.value, half});
            y_low = std::min(y_low, at.mean.value - half);
            y_high = std::max(y_high, at.mean.value + half);
        }
        const double low = kind.model.knots_mm_h.front();
        const double high = kind.model.knots_mm_h.back();
        x_low = std::min(x_low, low);
        x_high = std::max(x_high, high);
        chart.series.push_back(std::move(series));
        if (!(high > low)) continue;
        Curve curve{"", {0.7, grey(0.25), dashes[k % 4]}, {}};
        for (int n = 0; n <= curve_points; ++n) {
            const double at = low * std::pow(high / low, static_cast<double>(n) / curve_points);
            curve.points.push_back({at, curve_at(kind.model, at).mean.value});
        }
        chart.curves.push_back(std::move(curve));
    }
    if (!(x_high > x_low)) x_low = 0.5 * x_high;
    chart.x = axis_for_rates(x_low, x_high);
    const double room = 0.06 * (y_high - y_low);
    chart.y = linear_axis(y_low - room, y_high + room, 8);
    chart.limits.push_back(
        {chart.x.low, chart.x.high, -sheet.trial.request.limit_percent, sheet.trial.request.limit_percent});
    chart.limit_legend = words.text("comparison.limits", {{"limit", sheet.limit()}});
    constexpr double height = 270;
    sheet.flow.need(height);
    draw_chart(sheet.flow, chart, height, [&](const std::string& plain) { return words.number(plain); });
    sheet.flow.paragraph(words.text("trial.curves_note"), small_style);

    Table table;
    table.columns = {{words.text("trial.kind"), 100, Align::left},
                     {words.text("comparison.intensity"), 50, Align::number},
                     {words.text("trial.mean"), 60, Align::number},
                     {words.text("trial.U"), 50, Align::number},
                     {words.text("trial.between"), 60, Align::number},
                     {words.text("trial.within"), 60, Align::number},
                     {words.text("trial.of_gauges"), 100, Align::centre}};
    table.groups = true;
    for (const TrialKind& kind : sheet.trial.kinds)
        for (std::size_t i = 0; i < kind.curve.size(); ++i) {
            const CurveValue& at = kind.curve[i];
            table.rows.push_back(
                {{i == 0 ? kind.kind : "", sheet.numbers.significant(at.intensity_mm_h, 3),
                  sheet.two(at.mean.value), sheet.two(at.U_mean), sheet.two(at.between_sd),
                  sheet.two(at.within_sd),
                  words.text("format.range", {{"low", sheet.one(at.low)}, {"high", sheet.one(at.high)}})},
                 false,
                 i == 0});
        }
    draw_table(sheet.flow, table, sheet.decimal());
}

void draw_spread(const Sheet& sheet) {
    const Words& words = sheet.words;
    sheet.flow.heading(words.text("trial.spread"));
    Table table;
    table.caption =
        words.text("trial.spread_note", {{"coverage", sheet.numbers.percent(sheet.trial.request.coverage)}});
    table.caption_style = small_style;
    table.columns = {{words.text("trial.kind"), 100, Align::left},
                     {words.text("trial.level"), 90, Align::centre},
                     {words.text("trial.tilt"), 90, Align::centre},
                     {words.text("trial.between_runs"), 90, Align::centre},
                     {words.text("trial.points"), 90, Align::centre}};
    for (const TrialKind& kind : sheet.trial.kinds)
        table.rows.push_back({{kind.kind, sheet.interval(kind.spread.level),
                               kind.model.model.random_columns == 2 ? sheet.interval(kind.spread.tilt) : "–",
                               kind.model.model.runs > 0 ? sheet.interval(kind.spread.run) : "–",
                               sheet.interval(kind.spread.residual)}});
    draw_table(sheet.flow, table, sheet.decimal());

    const auto& kinds = sheet.trial.kinds;
    if (std::none_of(kinds.begin(), kinds.end(),
                     [](const TrialKind& kind) { return kind.adjustment.has_value(); }))
        return;
    Table adjusted;
    adjusted.caption = words.text("trial.adjustment_note");
    adjusted.caption_style = small_style;
    adjusted.columns = {
        {words.text("trial.kind"), 100, Align::left},    {words.text("trial.gauges"), 50, Align::centre},
        {words.text("trial.found"), 90, Align::centre},  {words.text("trial.left"), 90, Align::centre},
        {words.text("trial.change"), 60, Align::number}, {words.text("trial.U"), 50, Align::number}};
    for (const TrialKind& kind : kinds)
        if (kind.adjustment)
            adjusted.rows.push_back(
                {{kind.kind, std::to_string(kind.adjustment->gauges),
                  sheet.two(kind.adjustment->found_mean) + " ± " + sheet.two(kind.adjustment->found_sd),
                  sheet.two(kind.adjustment->left_mean) + " ± " + sheet.two(kind.adjustment->left_sd),
                  sheet.two(kind.adjustment->change.value), sheet.two(kind.adjustment->U_change)}});
    sheet.flow.space(4);
    draw_table(sheet.flow, adjusted, sheet.decimal());
}

void draw_place(const Sheet& sheet, const TrialPlace& place) {
    const Words& words = sheet.words;
    const RainClimate& climate = place.site.climate;
    // A place's heading stays with its table, which is not broken where a page holds it.
    const double rows = static_cast<double>(sheet.trial.kinds.size() * shown_amounts.size());
    sheet.flow.need(std::min(place_height_most, place_head_height + place_row_height * rows));
    sheet.flow.heading(place.site.title);
    sheet.flow.paragraph(words.text("trial.rain", {{"year", sheet.numbers.fixed(climate.amount_mm, 0)},
                                                   {"one", sheet.one(climate.maxima[0].amount_mm)},
                                                   {"five", sheet.one(climate.maxima[1].amount_mm)},
                                                   {"sixty", sheet.one(climate.maxima[2].amount_mm)},
                                                   {"source", place.site.source}}) +
                             (place.site.adjacent_assumed ? " " + words.text("trial.together") : ""),
                         small_style);
    Table table;
    // Uncorrected errors may have two figures before the point: "13.7 (13.2 to 14.2)" on one line.
    table.columns = {{words.text("trial.kind"), 66, Align::left},
                     {words.text("trial.amount"), 66, Align::left},
                     {words.text("trial.mean"), 38, Align::number},
                     {words.text("trial.U"), 28, Align::number},
                     {words.text("trial.grain"), 38, Align::number},
                     {words.text("trial.rms_none"), 92, Align::centre},
                     {words.text("trial.rms_kind"), 72, Align::centre},
                     {words.text("trial.rms_certificate"), 72, Align::centre},
                     {words.text("trial.smallest"), 42, Align::centre}};
    table.groups = true;
    bool beyond = false;
    for (std::size_t k = 0; k < sheet.trial.kinds.size(); ++k)
        for (const Amount amount : shown_amounts) {
            const AmountError& none = place.result.of(k, amount, Corrected::none);
            beyond = beyond || none.beyond_trial > 0.01;
            TableRow row{{amount == Amount::year ? sheet.trial.kinds[k].kind : "",
                          words.text(amount_keys[static_cast<std::size_t>(amount)]),
                          sheet.two(none.mean.value), sheet.two(none.U_mean), sheet.two(none.grain_sd)},
                         false,
                         amount == Amount::year};
            for (const Corrected way : {Corrected::none, Corrected::by_kind, Corrected::by_certificate}) {
                const AmountError& error = place.result.of(k, amount, way);
                row.cells.push_back(sheet.interval(error.rms, error.rms_low, error.rms_high, 1));
            }
            row.cells.push_back(
                sheet.numbers.probability(place.result.of(k, amount, sheet.trial.request.corrected).best));
            table.rows.push_back(std::move(row));
        }
    draw_table(sheet.flow, table, sheet.decimal());
    // Of the year, and of whatever else is chosen by.
    std::vector<Amount> told{Amount::year};
    if (sheet.trial.request.by != Amount::year) told.push_back(sheet.trial.request.by);
    for (std::size_t k = 0; beyond && k < sheet.trial.kinds.size(); ++k)
        for (const Amount amount : told) {
            const double share = place.result.of(k, amount, Corrected::none).beyond_trial;
            if (!(share > 0.01)) continue;
            const std::string to = sheet.numbers.significant(sheet.trial.kinds[k].model.knots_mm_h.back(), 3);
            const std::string shown = sheet.numbers.percent(std::round(1000 * share) / 1000);
            sheet.flow.paragraph(
                amount == Amount::year
                    ? words.text("trial.beyond",
                                 {{"kind", sheet.trial.kinds[k].kind}, {"share", shown}, {"to", to}})
                    : words.text("trial.beyond_amount",
                                 {{"kind", sheet.trial.kinds[k].kind},
                                  {"amount", words.text(amount_keys[static_cast<std::size_t>(amount)])},
                                  {"share", shown},
                                  {"to", to}}),
                small_style);
        }
    if (sheet.trial.kinds.size() > 1) {
        Table duels;
        duels.caption = words.text("trial.duels", {{"amount", sheet.amount()}, {"way", sheet.way()}});
        duels.caption_style = small_style;
        duels.columns = {
            {words.text("trial.kind"), 100, Align::left},
            {words.text("trial.before"), 100, Align::left},
            {words.text("trial.p_kind"), 80, Align::centre},
            {words.text("trial.p_gauge"), 80, Align::centre},
            {words.text("trial.cost",
                        {{"currency", sheet.trial.currency.empty() ? "–" : sheet.trial.currency}}),
             90, Align::number}};
        for (const Duel& duel : place.duels)
            if (duel.a == place.choice.kind) {
                const auto cost = cost_per_percent(sheet.trial, place, duel.a);
                duels.rows.push_back(
                    {{sheet.trial.kinds[duel.a].kind, sheet.trial.kinds[duel.b].kind,
                      sheet.numbers.probability(duel.kind), sheet.numbers.probability(duel.gauge),
                      cost ? sheet.two(*cost) : "–"}});
            }
        sheet.flow.space(4);
        draw_table(sheet.flow, duels, sheet.decimal());
    }
    const std::string choice = choice_words(sheet, place);
    sheet.flow.need(sheet.flow.height_of(choice, strong_style, sheet.flow.width()) + 4);
    sheet.flow.paragraph(choice, strong_style);
}

void draw_service(const Sheet& sheet) {
    const Words& words = sheet.words;
    const auto& kinds = sheet.trial.kinds;
    if (std::none_of(kinds.begin(), kinds.end(),
                     [](const TrialKind& kind) { return kind.history.has_value(); }))
        return;
    sheet.flow.heading(words.text("trial.service"));
    Table table;
    table.caption = words.text("trial.service_note");
    table.caption_style = small_style;
    table.columns = {{words.text("trial.kind"), 100, Align::left},
                     {words.text("trial.event"), 110, Align::left},
                     {words.text("trial.count"), 40, Align::centre},
                     {words.text("trial.gauge_years"), 60, Align::number},
                     {words.text("trial.rate"), 110, Align::centre}};
    for (const TrialKind& kind : kinds) {
        if (!kind.history) continue;
        const auto add = [&](const std::string& name, const std::string& what, const EventRate& rate) {
            table.rows.push_back(
                {{name, what, std::to_string(rate.events), sheet.one(rate.exposure), sheet.interval(rate)},
                 false,
                 !name.empty()});
        };
        add(kind.kind, words.text("trial.services"), kind.history->services);
        add("", words.text("trial.adjustments"), kind.history->adjustments);
        add("", words.text("trial.missed_closures"), kind.history->missed_closures);
        for (const KindHistory::Found& found : kind.history->findings) add("", found.what, found.rate);
    }
    draw_table(sheet.flow, table, sheet.decimal());
    for (const TrialKind& kind : kinds)
        if (kind.history && kind.history->drift)
            sheet.flow.paragraph(
                words.text("trial.drift",
                           {{"kind", kind.kind},
                            {"drift", sheet.numbers.fixed(kind.history->drift->percent_per_year.value, 3)},
                            {"U", sheet.numbers.fixed(kind.history->drift->U_percent_per_year, 3)},
                            {"at", sheet.numbers.significant(kind.history->drift_at_mm_h, 3)},
                            {"stretches", std::to_string(kind.history->drift->stretches)}}),
                small_style);
}

}  // namespace

Result<std::string> draw_trial(const Trial& trial, const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Sheet sheet{trial, paper.words, Numbers(paper.words), flow};
    draw_title(sheet);
    draw_brief(sheet);
    draw_curves(sheet);
    draw_spread(sheet);
    for (const TrialPlace& place : trial.places) draw_place(sheet, place);
    draw_service(sheet);
    flow.heading(paper.words.text("trial.method"));
    flow.paragraph(
        paper.words.text("trial.method_text", {{"draws", std::to_string(draws)},
                                               {"required", sheet.numbers.percent(trial.request.required)}}),
        small_style);
    (*canvas)->decoration(true);
    draw_page_feet(sheet.flow, sheet.words, sheet.words.text("trial.not_a_certificate"));
    const auto pages = (*canvas)->finish();
    if (!pages) return pages.fault();
    DocumentInfo info;
    info.title = paper.words.text("trial.title");
    info.creator = "tipwright";
    info.language = paper.words.language();
    info.date = trial.to;
    const Attachment data{"trial.json", "application/json", "", trial_json(trial)};
    return finish_pdf(*pages, {data}, info, (*canvas)->structure());
}

}  // namespace tipwright::report
