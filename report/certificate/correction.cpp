// The correction a logger applies: formula, worked example, table.
#include "report/certificate/correction_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

namespace {

Table table_of(const Content& content, const calib::Correction& correction) {
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    Table table;
    for (const char* key :
         {"correction.interval", "correction.indicated", "correction.depth", "correction.U_depth",
          "correction.corrected", "correction.U_corrected", "correction.factor", "correction.U_factor"})
        table.columns.push_back({words.text(key), 1, Align::number});
    for (const calib::CorrectionRow& row : correction.rows) {
        const auto depth = numbers.pair(row.depth_mm, content.coverage());
        const auto corrected = numbers.pair(row.corrected_intensity_mm_h, content.coverage());
        const auto factor = numbers.pair(row.factor, {0, row.factor_U, content.coverage()});
        table.rows.push_back(
            {{numbers.figures(row.interval_s, 4), numbers.figures(row.indicated_intensity_mm_h, 4),
              depth.value, depth.U, corrected.value, corrected.U, factor.value, factor.U}});
    }
    return table;
}

}  // namespace

void draw_correction(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Record& record = content.record;
    flow.heading(words.text("correction.heading"));
    if (!has_correction(record)) {
        flow.paragraph(no_correction_sentence(record, words));
        return;
    }
    flow.need(100);
    flow.paragraph(correction_intro(record, words));
    flow.paragraph(correction_or_table(record, words), {Face::bold, 9.4, black}, 14);
    if (const std::string siphon = siphon_sentence(record, words); !siphon.empty()) flow.paragraph(siphon);
    flow.paragraph(correction_example(record, words));
    flow.paragraph(correction_range(record, words));
    flow.paragraph(words.text("correction.uncertainty"), small_style);
    draw_table(flow, table_of(content, *record.evaluation.correction), words.decimal_sign());
}

}  // namespace tipwright::report::certificate
