// The correction a logger applies: formula, worked example, table.
#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "report/certificate/sections.hpp"
#include "report/certificate/table.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double mm_per_mL_per_cm2 = 10;

// The row nearest the middle of the range, on a scale of ratios.
const calib::CorrectionRow& example_row(const calib::Correction& correction) {
    const double middle = std::sqrt(correction.interval_min_s * correction.interval_max_s);
    return *std::min_element(correction.rows.begin(), correction.rows.end(),
                             [&](const calib::CorrectionRow& a, const calib::CorrectionRow& b) {
                                 return std::abs(std::log(a.interval_s / middle)) <
                                        std::abs(std::log(b.interval_s / middle));
                             });
}

std::string example(const Content& content, const calib::CorrectionRow& row) {
    const Numbers& numbers = content.numbers;
    const std::string nominal = numbers.significant(content.record.gauge.nominal_tip_mm, 6);
    const std::string depth = numbers.pair(row.depth_mm, content.coverage()).value;
    const std::string corrected = numbers.pair(row.corrected_intensity_mm_h, content.coverage()).value;
    const std::string indicated = numbers.figures(row.indicated_intensity_mm_h, 4);
    if (content.record.gauge.inlet != calib::Inlet::siphon)
        return content.words.text("correction.example", {{"T", numbers.figures(row.interval_s, 4)},
                                                         {"h", depth},
                                                         {"nominal", nominal},
                                                         {"corrected", corrected},
                                                         {"indicated", indicated}});
    // Several emptyings of any siphon.
    constexpr int tips = 24;
    return content.words.text(
        "correction.example_siphon",
        {{"tips", std::to_string(tips)},
         {"time", numbers.figures(tips * row.interval_s, 4)},
         {"T", numbers.figures(row.interval_s, 4)},
         {"h", depth},
         {"sum", numbers.figures(tips * row.depth_mm.value, 4)},
         {"nominal_sum", numbers.figures(tips * content.record.gauge.nominal_tip_mm, 4)},
         {"corrected", corrected},
         {"indicated", indicated}});
}

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

std::string correction_formula(const Content& content) {
    const Record& record = content.record;
    const auto& correction = record.evaluation.correction;
    if (!correction || correction->rows.empty() || !record.evaluation.model) return {};
    const calib::RateCandidate* fit = record.evaluation.model->chosen_candidate();
    const Numbers& numbers = content.numbers;
    const Words& words = content.words;
    if (!fit) return {};
    const auto& p = fit->parameters;
    const double per_mL = mm_per_mL_per_cm2 / record.gauge.catch_area_cm2().value;
    // Six figures: whoever computes with the formula must meet the table to its last figure.
    constexpr int figures = 6;
    const auto digits = [&](double value) { return numbers.figures(value, figures); };
    switch (fit->form) {
        case calib::RateForm::constant:
            return words.text("correction.constant", {{"h0", digits(per_mL * p[0].value)}});
        case calib::RateForm::line:
            return words.text("correction.line",
                              {{"h0", digits(per_mL * p[0].value)}, {"tau", digits(p[1].value)}});
        case calib::RateForm::curve:
            return words.text("correction.curve", {{"per_mL", digits(per_mL)},
                                                   {"twice_c", digits(2 * p[2].value)},
                                                   {"tau", digits(p[1].value)},
                                                   {"c_V0", digits(p[2].value * p[0].value)}});
        case calib::RateForm::power:
            return words.text("correction.power", {{"per_mL", digits(per_mL)},
                                                   {"alpha", digits(p[0].value)},
                                                   {"exponent", digits(1 / (1 - p[1].value))}});
        case calib::RateForm::table:
            break;
    }
    return {};
}

const char* no_correction_key(const Record& record) {
    return record.evaluation.no_correction == calib::NoCorrection::one_rate ? "correction.none_one_rate"
                                                                            : "correction.none_default";
}

void draw_correction(Content& content) {
    Flow& flow = content.flow;
    const Words& words = content.words;
    const Numbers& numbers = content.numbers;
    const Record& record = content.record;
    flow.heading(words.text("correction.heading"));
    const auto& correction = record.evaluation.correction;
    if (!correction || !record.evaluation.model || correction->rows.empty()) {
        flow.paragraph(
            record.evaluation.no_correction == calib::NoCorrection::steps_doubted
                ? words.text("reservation.no_correction")
                : words.text("correction.none", {{"reason", words.text(no_correction_key(record))}}));
        return;
    }
    const std::string nominal = numbers.significant(record.gauge.nominal_tip_mm, 6);
    flow.need(100);
    const bool siphon = record.gauge.inlet == calib::Inlet::siphon;
    flow.paragraph(
        words.text(siphon ? "correction.intro_siphon" : "correction.intro", {{"nominal", nominal}}));
    const std::string formula = correction_formula(content);
    flow.paragraph(formula.empty() ? words.text("correction.table") : formula, {Face::bold, 9.4, black}, 14);
    if (siphon) flow.paragraph(words.text("correction.siphon"));
    flow.paragraph(example(content, example_row(*correction)));
    const double per_hour = 3600 * record.gauge.nominal_tip_mm;
    flow.paragraph(words.text("correction.range",
                              {{"from", numbers.figures(correction->interval_min_s, 4)},
                               {"to", numbers.figures(correction->interval_max_s, 4)},
                               {"I_from", numbers.figures(per_hour / correction->interval_max_s, 4)},
                               {"I_to", numbers.figures(per_hour / correction->interval_min_s, 4)}}));
    flow.paragraph(words.text("correction.uncertainty"), small_style);
    draw_table(flow, table_of(content, *correction), words.decimal_sign());
}

}  // namespace tipwright::report::certificate
