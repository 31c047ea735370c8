#include <algorithm>

#include "calib/base/rounding.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/table.hpp"
#include "report/laboratory/laboratory_pages.hpp"
#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

constexpr std::size_t signals_shown = 20;

struct LaboratoryPage {
    const LaboratoryReport& report;
    const Words& words;
    Numbers numbers;
    Flow& flow;
};

std::string place_of(const calib::CheckChart& one, const Words& words, const Numbers& numbers) {
    return one.intensity_mm_h == 0
               ? words.text("laboratory.mean")
               : words.text("laboratory.at", {{"intensity", numbers.significant(one.intensity_mm_h, 4)}});
}

void draw_control(const LaboratoryPage& d) {
    const auto number = [&](const std::string& plain) { return d.words.number(plain); };
    for (const Chart& chart : {control_picture(d.report, d.words), weighted_picture(d.report, d.words)}) {
        d.flow.heading(chart.words);
        d.flow.need(185);
        draw_chart(d.flow, chart, 185, number);
    }
    auto sentences = signal_sentences(d.report, d.words, false);
    d.flow.heading(d.words.text("laboratory.signals"));
    if (sentences.empty()) sentences.push_back(d.words.text("laboratory.no_signal"));
    const std::size_t all = sentences.size();
    if (all > signals_shown) {
        sentences.erase(sentences.begin(), sentences.end() - static_cast<std::ptrdiff_t>(signals_shown));
        sentences.insert(sentences.begin(), d.words.text("laboratory.earlier",
                                                         {{"count", std::to_string(all - signals_shown)}}));
    }
    d.flow.list(sentences);
}

void draw_parts(const LaboratoryPage& d) {
    d.flow.heading(d.words.text("laboratory.parts"));
    Table table;
    table.caption = d.words.text("laboratory.parts_note");
    table.caption_style = small_style;
    table.columns = {{d.words.text("laboratory.of"), 90, Align::left},
                     {d.words.text("laboratory.part"), 90, Align::left},
                     {d.words.text("laboratory.s"), 60, Align::number},
                     {d.words.text("laboratory.from"), 60, Align::number},
                     {d.words.text("laboratory.to"), 60, Align::number},
                     {d.words.text("laboratory.dof"), 50, Align::number}};
    for (const calib::CheckChart& one : d.report.analysis.charts) {
        bool first = true;
        for (const calib::VariancePart& part : one.parts.parts) {
            table.rows.push_back({{first ? place_of(one, d.words, d.numbers) : "",
                                   d.words.text("laboratory.factor_" + part.name),
                                   d.numbers.figures(part.sd, 2), d.numbers.figures(part.low_sd, 2),
                                   d.numbers.figures(part.high_sd, 2), d.numbers.fixed(part.dof, 0)},
                                  false,
                                  first});
            first = false;
        }
        table.rows.push_back(
            {{"", d.words.text("laboratory.together"), d.numbers.figures(one.parts.total_sd, 2), "", "",
              d.numbers.fixed(one.parts.total_dof, 1)},
             true,
             false});
    }
    draw_table(d.flow, table, d.words.decimal_sign());
    const auto& missing = d.report.analysis.charts.front().parts.left_out;
    if (missing.empty()) return;
    std::vector<std::string> names;
    names.reserve(missing.size());
    for (const auto& name : missing) names.push_back(d.words.text("laboratory.factor_" + name));
    d.flow.paragraph(d.words.text("laboratory.not_parted", {{"what", d.words.list(names)}}));
}

void draw_capability(const LaboratoryPage& d) {
    d.flow.heading(d.words.text("laboratory.capability"));
    Table table;
    table.caption = d.words.text("laboratory.capability_note");
    table.caption_style = small_style;
    table.columns = {{d.words.text("laboratory.intensity"), 70, Align::number},
                     {d.words.text("laboratory.claimed"), 60, Align::number},
                     {"k", 40, Align::number},
                     {d.words.text("laboratory.shared"), 70, Align::number},
                     {d.words.text("laboratory.own"), 70, Align::number},
                     {d.words.text("laboratory.precision"), 70, Align::number},
                     {d.words.text("laboratory.runs"), 40, Align::number}};
    for (const calib::Capability& one : d.report.analysis.capabilities)
        table.rows.push_back(
            {{d.numbers.significant(one.intensity_mm_h, 4), d.numbers.significant(one.U_percent, 2),
              d.numbers.fixed(one.k, 2), d.numbers.figures(one.u_shared_percent, 2),
              d.numbers.figures(one.u_own_percent, 2), d.numbers.figures(one.precision_percent, 2),
              std::to_string(one.runs)},
             false,
             false});
    draw_table(d.flow, table, d.words.decimal_sign());
    if (d.report.analysis.capabilities.size() < 2) return;
    const Chart chart = capability_picture(d.report, d.words);
    d.flow.need(185);
    draw_chart(d.flow, chart, 185, [&](const std::string& plain) { return d.words.number(plain); });
}

}  // namespace

std::vector<std::string> signal_sentences(const LaboratoryReport& report, const Words& words,
                                          bool of_alarm_only) {
    const Numbers numbers(words);
    std::vector<std::string> out;
    for (const calib::CheckChart& one : report.analysis.charts)
        for (const calib::ControlSignal& signal : one.chart.signals) {
            if (of_alarm_only && report.analysis.alarm_at != signal.at) continue;
            const std::string rule(calib::control_rule_names[static_cast<std::size_t>(signal.rule)]);
            out.push_back(
                words.text("laboratory.sentence",
                           {{"run", std::to_string(signal.at + 1)},
                            {"date", words.short_date(report.analysis.moments[signal.at].substr(0, 10))},
                            {"where", place_of(one, words, numbers)},
                            {"error", numbers.fixed(one.chart.values[signal.at], 2)},
                            {"what", words.text("laboratory.rule_" + rule)},
                            {"side", words.text(signal.above ? "laboratory.above" : "laboratory.below")}}));
        }
    return out;
}

std::string alarm_sentence(const LaboratoryReport& report, const Words& words) {
    const auto& analysis = report.analysis;
    if (!analysis.alarm_at) return {};
    return words.text(analysis.answered ? "laboratory.alarm_answered" : "laboratory.alarm_since",
                      {{"run", std::to_string(*analysis.alarm_at + 1)},
                       {"date", words.short_date(analysis.moments[*analysis.alarm_at].substr(0, 10))}});
}

Result<std::string> draw_laboratory(const LaboratoryReport& report, const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Words& words = paper.words;
    const LaboratoryPage d{report, words, Numbers(words), flow};
    draw_laboratory_title(flow, words,
                          {words.text("laboratory.title"), words.text("laboratory.subtitle"),
                           words.text("laboratory.not_a_certificate"), report.invented, report.origin});
    const auto& moments = report.analysis.moments;
    flow.paragraph(words.text("laboratory.basis",
                              {{"gauge", report.gauge},
                               {"runs", std::to_string(moments.size())},
                               {"from", words.short_date(moments.front().substr(0, 10))},
                               {"until", words.short_date(moments.back().substr(0, 10))},
                               {"baseline", std::to_string(report.analysis.charts.front().chart.baseline)}}));
    const calib::ControlChart& mean = report.analysis.charts.front().chart;
    flow.paragraph(words.text("laboratory.hidden_move",
                              {{"percent", words.number(calib::fixed(calib::hidden_move(mean), 2))},
                               {"baseline", std::to_string(mean.baseline)}}));
    flow.paragraph(words.text(report.analysis.alarm() ? "laboratory.alarm" : "laboratory.in_control"),
                   {Face::bold, 10.5, black});
    if (report.analysis.alarm()) flow.paragraph(alarm_sentence(report, words), strong_style);
    draw_control(d);
    if (!report.analysis.actions.empty()) {
        flow.heading(words.text("laboratory.actions"));
        std::vector<std::string> actions;
        for (const auto& one : report.analysis.actions)
            actions.push_back(
                words.text("laboratory.action", {{"date", words.short_date(one.on)}, {"what", one.what}}));
        flow.list(actions);
    }
    draw_parts(d);
    draw_capability(d);
    flow.heading(words.text("laboratory.method"));
    flow.paragraph(words.text("laboratory.method_control"));
    flow.paragraph(words.text("laboratory.method_alarm"));
    flow.paragraph(words.text("laboratory.method_parts"));
    flow.paragraph(words.text("laboratory.method_capability"));
    return finish_laboratory(**canvas, flow, words, words.text("laboratory.title"), moments.back());
}

}  // namespace tipwright::report
