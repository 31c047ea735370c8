// The correction a logger applies: formula, worked example, table.
#include <algorithm>
#include <cmath>

#include "report/certificate/correction_words.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"
#include "report/tables/column_decimals.hpp"

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
    const CorrectionDecimals decimals = decimals_of(correction, content.coverage());
    const double shortest_s =
        std::min_element(correction.rows.begin(), correction.rows.end(), [](const auto& a, const auto& b) {
            return a.interval_s < b.interval_s;
        })->interval_s;
    const int interval_decimals = std::max(0, 3 - static_cast<int>(std::floor(std::log10(shortest_s))));
    for (const calib::CorrectionRow& row : correction.rows) {
        const auto depth = numbers.pair(row.depth_mm, content.coverage(), decimals.depth);
        const auto corrected =
            numbers.pair(row.corrected_intensity_mm_h, content.coverage(), decimals.corrected);
        const auto factor = numbers.pair(row.factor, {0, row.factor_U, content.coverage()}, decimals.factor);
        table.rows.push_back({{numbers.fixed(row.interval_s, interval_decimals),
                               numbers.fixed(row.indicated_intensity_mm_h, decimals.corrected), depth.value,
                               depth.U, corrected.value, corrected.U, factor.value, factor.U}});
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
