#include "report/field_check/field_check_page.hpp"

#include <algorithm>
#include <cmath>

#include "report/certificate/flow.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/page_foot.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/table.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report {

namespace {

using namespace certificate;

constexpr double mm_per_inch = 25.4;
constexpr double label_width = 42 * mm;

struct Sheet {
    const FieldCheckFacts& facts;
    const calib::FieldCheck& check;
    const Words& words;
    Numbers numbers;
    Flow& flow;

    std::string text(const std::string& key) const { return words.text("field_check." + key); }
};

void draw_box(Flow& flow, const std::string& text, const Style& style) {
    const double height = flow.height_of(text, style, flow.width() - 16) + 9;
    flow.need(height + 4);
    flow.space(3);
    flow.canvas().rectangle(flow.left(), flow.y(), flow.width(), height, {1.2, black, {}});
    flow.draw_text(text, style, flow.left() + 8, flow.y() + 4, flow.width() - 16);
    flow.space(height);
}

void draw_title(const Sheet& sheet) {
    Flow& flow = sheet.flow;
    flow.set_y(13 * mm);
    flow.paragraph(sheet.text("title"), {Face::bold, 18, ink});
    flow.paragraph(sheet.text("subtitle"), {Face::regular, 10, black});
    draw_box(flow,
             sheet.text("not_a_certificate") +
                 (sheet.facts.invented ? "\n" + sheet.words.text("mark.invented") : ""),
             {Face::bold, 8.4, black});
    flow.space(6);
}

void draw_facts(const Sheet& sheet) {
    const Words& words = sheet.words;
    const FieldCheckFacts& facts = sheet.facts;
    Flow& flow = sheet.flow;
    const auto row = [&](const std::string& label, const std::string& value) {
        if (value.empty()) return;
        const double y = flow.y();
        const double label_end = flow.draw_text(label, label_style, flow.left(), y + 1.2, label_width - 6);
        flow.set_y(1.5 + std::max(label_end, flow.draw_text(value, body_style, flow.left() + label_width, y,
                                                            flow.width() - label_width)));
    };
    row(words.text("comparison.gauge"), words.named("translated", facts.kind_title, facts.kind_title));
    row(words.text("front.model"), facts.model);
    row(words.text("front.serial"), facts.serial.empty() ? words.text("front.not_stated") : facts.serial);
    row(words.text("front.station"), facts.station);
    row(words.text("front.customer"), facts.customer);
    row(sheet.text("made_on"), words.date(facts.made_on));
    row(sheet.text("made_by"), facts.made_by);
    if (!facts.last_certificate.empty())
        row(sheet.text("last"),
            words.text("field_check.last_value", {{"number", facts.last_certificate},
                                                  {"date", words.date(facts.last_certificate_on)}}));
}

std::string verdict_text(const Sheet& sheet) {
    const auto& conformity = sheet.check.conformity;
    if (!conformity || !sheet.facts.limit_percent) return sheet.text("no_limit");
    const char* key = conformity->verdict == calib::Verdict::pass   ? "field_check.pass"
                      : conformity->verdict == calib::Verdict::fail ? "field_check.fail"
                                                                    : "field_check.undecided";
    return sheet.words.text(key, {{"limit", sheet.numbers.significant(*sheet.facts.limit_percent, 4)},
                                  {"probability", sheet.numbers.probability(conformity->wrong_probability)}});
}

void draw_result(const Sheet& sheet) {
    const calib::FieldCheck& check = sheet.check;
    const Words& words = sheet.words;
    const Numbers& numbers = sheet.numbers;
    sheet.flow.heading(sheet.text("result"));
    const auto error = numbers.pair(check.error_percent.value, check.error_expanded);
    draw_box(sheet.flow,
             words.text("field_check.error", {{"e", error.value},
                                              {"U", error.U},
                                              {"k", error.k},
                                              {"coverage", numbers.percent(sheet.facts.coverage)}}) +
                 "\n" + verdict_text(sheet),
             {Face::bold, 9.6, black});
    sheet.flow.space(6);
    Table table;
    table.columns = {{sheet.text("quantity"), 90, Align::left}, {sheet.text("value"), 85, Align::left}};
    const auto row = [&](const char* key, const std::string& value) {
        table.rows.push_back({{sheet.text(key), value}});
    };
    const auto with_U = [&](const calib::Uncertain& quantity, const char* unit) {
        const auto pair = numbers.pair(quantity, sheet.facts.coverage);
        return pair.value + unit + " ± " + pair.U + unit;
    };
    row("tips", std::to_string(sheet.facts.tips));
    row("water", with_U(check.volume_mL, " mL"));
    row("per_tip", with_U(check.volume_per_tip_mL, " mL"));
    row("depth_true", numbers.fixed(check.depth_true_mm, 2) + " mm");
    row("depth_indicated", numbers.fixed(check.depth_indicated_mm, 2) + " mm");
    if (check.intensity_mm_h)
        row("intensity", numbers.fixed(*check.intensity_mm_h, 1) + " mm/h (" +
                             numbers.fixed(*check.intensity_mm_h / mm_per_inch, 2) + " in/h)");
    if (check.en) row("en", numbers.fixed(*check.en, 2));
    draw_table(sheet.flow, table, words.decimal_sign());
}

// The budget names its inputs in English: their names in the words of the page.
std::string input_name(const Sheet& sheet, const std::string& name) {
    struct Known {
        const char* name;
        const char* key;
    };
    constexpr Known known[] = {{"volume poured", "part_poured"},
                               {"water retained by funnel and filter", "part_retained"},
                               {"mass weighed", "part_mass"},
                               {"water lost before the weighing", "part_lost"},
                               {"water temperature", "part_temperature"},
                               {"water left in the compartments", "part_edges"},
                               {"scatter of the tips", "part_scatter"},
                               {"catch area", "part_area"}};
    for (const Known& one : known)
        if (name == one.name) return sheet.text(one.key);
    return name;
}

void draw_budget(const Sheet& sheet) {
    const calib::FieldCheck& check = sheet.check;
    sheet.flow.heading(sheet.text("budget"));
    Table table;
    table.caption = sheet.words.text("field_check.budget_note",
                                     {{"coverage", sheet.numbers.percent(sheet.facts.coverage)}});
    table.caption_style = small_style;
    table.columns = {{sheet.text("quantity"), 110, Align::left},
                     {sheet.text("contribution"), 65, Align::number}};
    for (std::size_t i = 0; i < check.inputs.size() && i < check.contributions_percent.size(); ++i)
        if (check.contributions_percent[i] != 0)
            table.rows.push_back({{input_name(sheet, check.inputs[i].name),
                                   sheet.numbers.fixed(std::fabs(check.contributions_percent[i]), 2)}});
    draw_table(sheet.flow, table, sheet.words.decimal_sign());
}

void draw_remarks(const Sheet& sheet) {
    std::vector<std::string> items;
    if (!sheet.facts.accepted_for.empty())
        items.push_back(sheet.words.text("field_check.accepted", {{"reason", sheet.facts.accepted_for}}));
    for (const calib::FieldRemark& remark : sheet.check.remarks)
        items.push_back(field_remark_text(sheet.words, remark));
    if (!sheet.facts.note.empty()) items.push_back(sheet.facts.note);
    if (items.empty()) return;
    sheet.flow.heading(sheet.text("remarks"));
    sheet.flow.list(items);
}

}  // namespace

std::string field_remark_text(const certificate::Words& words, const calib::FieldRemark& remark) {
    const Numbers numbers(words);
    switch (remark.note) {
        case calib::FieldNote::too_coarse:
            return words.text("field_check.too_coarse", {{"U", numbers.fixed(remark.first, 1)},
                                                         {"half", numbers.fixed(remark.second, 1)}});
        case calib::FieldNote::moved_since_certificate:
            return words.text("field_check.moved_since_certificate",
                              {{"en", numbers.fixed(remark.first, 1)}});
        case calib::FieldNote::poured_too_fast:
            return words.text("field_check.poured_too_fast", {{"rate", numbers.fixed(remark.first, 0)}});
        case calib::FieldNote::much_lost:
            return words.text("field_check.much_lost");
        case calib::FieldNote::part_tip_added:
            return words.text("field_check.part_tip_added", {{"tips", numbers.fixed(remark.first, 1)}});
        case calib::FieldNote::part_tip_taken_off:
            return words.text("field_check.part_tip_taken_off", {{"tips", numbers.fixed(remark.first, 1)}});
    }
    return {};
}

Result<std::string> draw_field_check(const FieldCheckFacts& facts, const calib::FieldCheck& check,
                                     const Stationery& paper) {
    const bool a4 = paper.paper == Paper::a4;
    auto canvas = Canvas::open(paper.fonts, a4 ? 210 * mm : 612, a4 ? 297 * mm : 792);
    if (!canvas) return canvas.fault();
    Flow flow(**canvas);
    const Sheet sheet{facts, check, paper.words, Numbers(paper.words), flow};
    draw_title(sheet);
    draw_facts(sheet);
    draw_result(sheet);
    draw_remarks(sheet);
    flow.heading(sheet.text("method"));
    flow.paragraph(sheet.text(facts.collected ? "method_collected" : "method_poured"));
    draw_budget(sheet);
    (*canvas)->decoration(true);
    draw_page_feet(flow, paper.words, sheet.text("not_a_certificate"));
    const auto drawn = (*canvas)->finish();
    if (!drawn) return drawn.fault();
    DocumentInfo info;
    info.title = sheet.text("title");
    info.creator = "tipwright";
    info.language = paper.words.language();
    info.date = facts.made_on + "T00:00:00Z";
    return finish_pdf(*drawn, {}, info, (*canvas)->structure());
}

}  // namespace tipwright::report
