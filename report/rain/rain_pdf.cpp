#include <algorithm>
#include <cmath>

#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/table.hpp"
#include "report/rain/rain_charts.hpp"
#include "report/rain/rain_report.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

constexpr std::size_t months_shown = 36;
constexpr std::size_t years_shown = 12;

struct RainPage {
    const RainReport& report;
    const Words& words;
    Numbers numbers;
    Flow& flow;

    std::string day(double time_s) const {
        return words.short_date(rain_moment(time_s, report.settings.utc_offset_s).substr(0, 10));
    }
    std::string minute(double time_s) const {
        return day(time_s) + " " + rain_moment(time_s, report.settings.utc_offset_s).substr(11, 5);
    }
    Numbers::Pair pair(double value, double U) const { return numbers.pair(value, {0, U, 0}); }
};

void draw_title(const RainPage& d) {
    Flow& flow = d.flow;
    const Words& words = d.words;
    flow.set_y(13 * mm);
    flow.paragraph(words.text("rain.title"), {Face::bold, 18, ink});
    flow.paragraph(words.text("rain.subtitle"), {Face::regular, 10, black});
    std::string text = words.text("rain.not_a_certificate");
    if (d.report.invented) text += "\n" + words.text("mark.invented");
    if (d.report.origin == Origin::virtual_bench) text += "\n" + words.text("mark.virtual_bench");
    if (d.report.origin == Origin::supplied_data) text += "\n" + words.text("mark.supplied_data");
    const Style style{Face::bold, 8.4, black};
    const double height = flow.height_of(text, style, flow.width() - 16) + 9;
    flow.space(3);
    flow.canvas().rectangle(flow.left(), flow.y(), flow.width(), height, {1.2, black, {}});
    flow.draw_text(text, style, flow.left() + 8, flow.y() + 4, flow.width() - 16);
    flow.space(height + 6);
    const auto& total = d.report.total;
    const auto amount = d.pair(total.corrected_mm, total.U_mm);
    const double percent =
        total.uncorrected_mm > 0 ? 100 * (total.corrected_mm / total.uncorrected_mm - 1) : 0;
    flow.paragraph(words.text("rain.short", {{"corrected", amount.value},
                                             {"U", amount.U},
                                             {"from", d.day(total.from_s)},
                                             {"until", d.day(total.until_s)},
                                             {"raw", d.numbers.fixed(total.uncorrected_mm, 1)},
                                             {"percent", d.numbers.fixed(percent, 2)}}),
                   {Face::bold, 10.5, black});
    flow.paragraph(words.text("rain.parts", {{"coverage", d.numbers.percent(d.report.settings.coverage)},
                                             {"common", d.numbers.significant(total.u_common_mm, 2)},
                                             {"tips", d.numbers.significant(total.u_tips_mm, 2)},
                                             {"filling", d.numbers.significant(total.u_filling_mm, 2)}}));
}

void draw_basis(const RainPage& d) {
    const Words& words = d.words;
    d.flow.heading(words.text("rain.basis"));
    const auto line = [&](std::string_view key, const std::string& what) {
        d.flow.paragraph(words.text(key) + ": " + what);
    };
    line("rain.gauge", d.report.gauge);
    for (const RainCertificate& one : d.report.certificates) {
        const std::string state =
            words.text(one.state == State::as_left ? "title.as_left" : "title.as_found");
        line("rain.certificate",
             words.text(
                 "rain.certificate_cell",
                 {{"number", one.number}, {"state", state}, {"date", words.short_date(one.calibrated_on)}}));
    }
    line("rain.log", d.report.log);
    line("rain.tips", std::to_string(d.report.signs.tips));
    line("rain.zone", words.text("rain.zone_cell", {{"zone", zone_of_days(d.report)}}));
    for (const RainCertificate& one : d.report.certificates)
        if (!one.reservations.empty())
            d.flow.paragraph(words.text("rain.reserved",
                                        {{"number", one.number}, {"what", words.list(one.reservations)}}));
}

void draw_one_chart(const RainPage& d, const Chart& chart, double height) {
    if (chart.curves.empty() && chart.series.empty()) return;
    d.flow.heading(chart.words);
    d.flow.need(height);
    draw_chart(d.flow, chart, height, [&](const std::string& plain) { return d.words.number(plain); });
}

// Months and years that the log covers in part only: they would pass for dry ones.
void draw_parts_of_periods(const RainPage& d) {
    std::vector<std::string> parts;
    const auto add = [&](const calib::RainAmount& one) {
        if (is_part(one))
            parts.push_back(d.words.text("rain.part", {{"from", d.day(one.from_s)},
                                                       {"until", d.day(one.until_s - 1)},
                                                       {"days", d.numbers.fixed(one.missing_s / 86400, 1)}}));
    };
    if (d.report.months.size() <= months_shown)
        for (const auto& month : d.report.months) add(month);
    for (const auto& year : d.report.years) add(year);
    if (parts.empty()) return;
    d.flow.paragraph(d.words.text("rain.parts_note"), strong_style);
    d.flow.list(parts);
}

// Of each year where they are few, and of all.
void draw_largest(const RainPage& d) {
    const Words& words = d.words;
    const std::vector<calib::RainAmount> most = largest_of_all(d.report);
    if (most.empty()) return;
    Table table;
    table.caption = words.text("rain.largest_note");
    table.caption_style = small_style;
    table.columns = {{words.text("rain.from"), 110, Align::left},
                     {"min", 40, Align::number},
                     {words.text("rain.uncorrected") + "\n" + words.text("rain.mm"), 90, Align::number},
                     {words.text("rain.corrected").substr(0, words.text("rain.corrected").find(',')) + "\n" +
                          words.text("rain.mm"),
                      80, Align::number},
                     {words.text("rain.U"), 60, Align::number},
                     {"mm/h", 60, Align::number}};
    const auto row = [&](const calib::RainAmount& one, bool bold) {
        const int minutes = minutes_of(one.period);
        const auto amount = d.pair(one.corrected_mm, one.U_mm);
        table.rows.push_back(
            TableRow{{d.minute(one.from_s), std::to_string(minutes), d.numbers.fixed(one.uncorrected_mm, 1),
                      amount.value, amount.U, d.numbers.significant(60 * one.corrected_mm / minutes, 3)},
                     bold,
                     bold});
    };
    if (d.report.years.size() > 1 && d.report.years.size() <= years_shown)
        for (const auto& one : d.report.largest) row(one, false);
    for (const auto& one : most) row(one, true);
    d.flow.heading(words.text("rain.largest"));
    draw_table(d.flow, table, words.decimal_sign());
}

void draw_amounts(const RainPage& d) {
    const Words& words = d.words;
    const auto columns = [&](bool moments) {
        return std::vector<Column>{
            {words.text("rain.from"), moments ? 90.0 : 70.0, Align::left},
            {words.text("rain.until"), moments ? 90.0 : 70.0, Align::left},
            {words.text("rain.uncorrected") + "\n" + words.text("rain.mm"), 80, Align::number},
            {words.text("rain.corrected").substr(0, words.text("rain.corrected").find(',')) + "\n" +
                 words.text("rain.mm"),
             70, Align::number},
            {words.text("rain.U"), 50, Align::number},
            {words.text("rain.highest"), 60, Align::number}};
    };
    const auto row = [&](const calib::RainAmount& one, bool moments, bool bold) {
        const auto amount = d.pair(one.corrected_mm, one.U_mm);
        // A day's end belongs to the day before.
        const double end = one.until_s - (moments || one.period == calib::RainPeriod::total ? 0 : 1);
        return TableRow{{moments ? d.minute(one.from_s) : d.day(one.from_s),
                         moments ? d.minute(end) : d.day(end), d.numbers.fixed(one.uncorrected_mm, 1),
                         amount.value, amount.U, d.numbers.significant(one.highest_mm_h, 3)},
                        bold,
                        bold};
    };
    d.flow.heading(words.text("rain.table"));
    Table table;
    table.caption = words.text("rain.table_note");
    table.caption_style = small_style;
    table.columns = columns(false);
    if (d.report.months.size() <= months_shown)
        for (const auto& month : d.report.months) table.rows.push_back(row(month, false, false));
    for (const auto& year : d.report.years) table.rows.push_back(row(year, false, true));
    table.rows.push_back(row(d.report.total, false, true));
    draw_table(d.flow, table, words.decimal_sign());
    draw_parts_of_periods(d);
    draw_largest(d);
    if (d.report.events.empty()) return;
    const std::vector<calib::RainAmount>& events = d.report.events;
    d.flow.heading(words.text("rain.events"));
    Table largest;
    largest.caption = words.text("rain.events_note", {{"count", std::to_string(events.size())}});
    largest.caption_style = small_style;
    largest.columns = columns(true);
    for (const auto& event : events) largest.rows.push_back(row(event, true, false));
    draw_table(d.flow, largest, words.decimal_sign());
}

void draw_method(const RainPage& d) {
    const Words& words = d.words;
    d.flow.heading(words.text("rain.signs"));
    d.flow.paragraph(words.text("rain.limits"));
    d.flow.list(rain_sign_sentences(d.report, words));
    d.flow.heading(words.text("rain.method"));
    d.flow.paragraph(words.text("rain.spread",
                                {{"limit", d.numbers.significant(d.report.settings.spread_limit_s / 60, 4)},
                                 {"event", d.numbers.significant(d.report.settings.event_gap_s / 3600, 4)}}));
    d.flow.paragraph(words.text("rain.pace"));
    if (const double interval_s = d.report.settings.count_interval_s; interval_s > 0)
        d.flow.paragraph(words.text("rain.counts", {{"interval", d.numbers.significant(interval_s, 6)}}));
    for (const std::string& sentence : rain_unknown_sentences(d.report, words)) d.flow.paragraph(sentence);
    if (d.report.drift_known)
        d.flow.paragraph(words.text(d.report.settings.drift == calib::DriftAs::interpolation
                                        ? "rain.drift_interpolation"
                                        : "rain.drift_uncertainty"));
}

}  // namespace

std::vector<std::string> rain_unknown_sentences(const RainReport& report, const Words& words) {
    const Numbers numbers(words);
    const double expected = 100 * report.settings.drift_per_year;
    const auto day = [&](double t) {
        return words.short_date(rain_moment(t, report.settings.utc_offset_s).substr(0, 10));
    };
    std::vector<std::string> out;
    if (report.total.from_s < report.first_calibrated_s)
        out.push_back(words.text("rain.before_first", {{"date", day(report.first_calibrated_s)}}));
    for (const auto& [from, to] : report.drift_unseen)
        out.push_back(expected > 0 ? words.text("rain.drift_unseen_expected",
                                                {{"from", words.short_date(from)},
                                                 {"to", words.short_date(to)},
                                                 {"percent", numbers.significant(expected, 2)}})
                                   : words.text("rain.drift_unseen", {{"from", words.short_date(from)},
                                                                      {"to", words.short_date(to)}}));
    if (report.total.until_s > report.last_calibrated_s)
        out.push_back(expected > 0
                          ? words.text("rain.drift_expected", {{"date", day(report.last_calibrated_s)},
                                                               {"percent", numbers.significant(expected, 2)}})
                          : words.text("rain.drift_unknown", {{"date", day(report.last_calibrated_s)}}));
    return out;
}

std::vector<std::string> rain_sign_sentences(const RainReport& report, const Words& words) {
    const calib::RainSigns& s = report.signs;
    const Numbers numbers(words);
    std::vector<std::string> out;
    const auto count = [](std::uint64_t n) { return std::to_string(n); };
    const auto percent = [&](std::uint64_t n) {
        return numbers.significant(
            100.0 * static_cast<double>(n) / static_cast<double>(std::max<std::uint64_t>(s.tips, 1)), 2);
    };
    const auto day = [&](double t) {
        return words.short_date(rain_moment(t, report.settings.utc_offset_s).substr(0, 10));
    };
    if (s.one_contact > 0)
        out.push_back(words.text("rain.sign_contacts",
                                 {{"count", count(s.one_contact)}, {"percent", percent(s.one_contact)}}));
    if (s.too_fast > 0)
        out.push_back(words.text("rain.sign_fast",
                                 {{"count", count(s.too_fast)}, {"s", numbers.significant(s.fastest_s, 2)}}));
    if (s.flat_tails > 0)
        out.push_back(words.text("rain.sign_flat", {{"count", count(s.flat_tails)},
                                                    {"h", numbers.fixed(s.flat_tail_s / 3600, 1)},
                                                    {"from", day(s.flat_tail_from_s)}}));
    if (s.lone_tips > 0) out.push_back(words.text("rain.sign_lone", {{"count", count(s.lone_tips)}}));
    if (s.longest_silence_s > 30 * 86400.0)
        out.push_back(words.text(
            "rain.sign_silence",
            {{"days", numbers.fixed(s.longest_silence_s / 86400, 0)}, {"from", day(s.silence_from_s)}}));
    if (s.beyond > 0)
        out.push_back(
            words.text("rain.sign_beyond", {{"count", count(s.beyond)},
                                            {"percent", percent(s.beyond)},
                                            {"rate", numbers.significant(report.highest_mm_h, 3)}}));
    if (s.gaps > 0)
        out.push_back(words.text("rain.sign_gap",
                                 {{"count", count(s.gaps)}, {"h", numbers.fixed(s.missing_s / 3600, 1)}}));
    if (s.clock_set_back > 0)
        out.push_back(words.text("rain.sign_clock", {{"count", count(s.clock_set_back)},
                                                     {"s", numbers.significant(s.clock_back_s, 4)},
                                                     {"line", count(s.clock_back_line)}}));
    if (s.bounces > 0) out.push_back(words.text("rain.sign_bounce", {{"count", count(s.bounces)}}));
    if (s.duplicates > 0) out.push_back(words.text("rain.sign_duplicates", {{"count", count(s.duplicates)}}));
    if (out.empty()) out.push_back(words.text("rain.sign_none"));
    return out;
}

Result<std::string> draw_rain(const RainReport& report, const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const RainPage d{report, paper.words, Numbers(paper.words), flow};
    draw_title(d);
    draw_one_chart(d, rain_sum_chart(report, paper.words), 210);
    draw_one_chart(d, rain_period_chart(report, paper.words), 190);
    draw_basis(d);
    draw_amounts(d);
    draw_method(d);
    (*canvas)->decoration(true);
    draw_page_feet(flow, paper.words, paper.words.text("rain.not_a_certificate"));
    const auto drawn = (*canvas)->finish();
    if (!drawn) return drawn.fault();
    DocumentInfo info;
    info.title = paper.words.text("rain.title");
    info.creator = "tipwright";
    info.language = paper.words.language();
    info.date = rain_moment(report.total.until_s, 0);
    return finish_pdf(*drawn, {}, info, (*canvas)->structure());
}

}  // namespace tipwright::report
