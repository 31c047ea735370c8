#include "report/laboratory/bench_check_page.hpp"

#include "report/certificate/flow.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/table.hpp"
#include "report/laboratory/laboratory_pages.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

void draw_rows(Flow& flow, const BenchCheckReport& report, const Words& words) {
    const auto text = [&](const char* key) { return words.text(std::string("bench_check.") + key); };
    flow.heading(text("checks"));
    Table table;
    table.caption = text("checks_note");
    table.caption_style = small_style;
    table.columns = {{text("instrument"), 50, Align::left},
                     {text("check"), 80, Align::left},
                     {text("verdict"), 48, Align::left},
                     {text("found"), 210, Align::left},
                     {text("allowed"), 95, Align::left}};
    std::string before;
    for (const BenchCheckRow& row : report.rows) {
        const bool first = row.instrument != before;
        table.rows.push_back(
            {{first ? row.instrument : "", row.check, row.verdict, row.found, row.allowed}, false, first});
        before = row.instrument;
    }
    draw_table(flow, table, words.decimal_sign());
}

// A killed program writes nothing, and a dead computer even less.
std::vector<std::string> left_to_the_person(const BenchCheckReport& report, const Words& words) {
    const auto text = [&](const char* key) { return words.text(std::string("bench_check.") + key); };
    std::vector<std::string> out;
    out.push_back(report.pump_stops_itself_s > 0
                      ? words.text("bench_check.stops_itself",
                                   {{"s", Numbers(words).fixed(report.pump_stops_itself_s, 1)}})
                      : text("never_stops_itself"));
    out.push_back(text("plug"));
    out.push_back(text("float_switch"));
    out.push_back(text("local_rules"));
    return out;
}

}  // namespace

Result<std::string> draw_bench_check(const BenchCheckReport& report, const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Words& words = paper.words;
    const auto text = [&](const char* key) { return words.text(std::string("bench_check.") + key); };
    draw_laboratory_title(
        flow, words,
        {text("title"), text("subtitle"), text("not_a_certificate"), report.invented, report.origin});
    const std::string on = words.date(report.checked_at.substr(0, 10));
    const std::string at = report.checked_at.size() >= 16 ? report.checked_at.substr(11, 5) : "";
    flow.paragraph(words.text("bench_check.basis", {{"bench", report.bench}, {"date", on}, {"time", at}}),
                   strong_style);
    if (!report.checked_by.empty())
        flow.paragraph(words.text("bench_check.by", {{"person", report.checked_by}}));
    flow.paragraph(
        report.failed.empty() ? text("well") : words.text("bench_check.not_well", {{"what", report.failed}}),
        strong_style);
    if (!report.accepted.empty()) flow.list(report.accepted);
    flow.heading(text("left"));
    flow.list(left_to_the_person(report, words));
    draw_rows(flow, report, words);
    return finish_laboratory(**canvas, flow, words, text("title"), report.checked_at);
}

}  // namespace tipwright::report
