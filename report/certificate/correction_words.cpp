#include "report/certificate/correction_words.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "report/certificate/numbers.hpp"
#include "report/certificate/text_block.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr double mm_per_mL_per_cm2 = 10;
constexpr double seconds_an_hour = 3600;

// The row nearest the middle of the range, on a scale of ratios.
const calib::CorrectionRow& example_row(const calib::Correction& correction) {
    const double middle = std::sqrt(correction.interval_min_s * correction.interval_max_s);
    return *std::min_element(correction.rows.begin(), correction.rows.end(),
                             [&](const calib::CorrectionRow& a, const calib::CorrectionRow& b) {
                                 return std::abs(std::log(a.interval_s / middle)) <
                                        std::abs(std::log(b.interval_s / middle));
                             });
}

bool is_siphon(const Record& record) {
    return record.gauge.inlet == calib::Inlet::siphon;
}

std::string siphon_example(const Record& record, const Words& words, const calib::CorrectionRow& row) {
    const Numbers numbers(words);
    // Several emptyings of any siphon.
    constexpr int tips = 24;
    const double coverage = record.plan.coverage;
    const calib::Uncertain sum{tips * row.depth_mm.value, tips * row.depth_mm.u, row.depth_mm.dof};
    // The depth of one tip with a digit more than it earns: the product must be seen to be right.
    const int decimals = calib::decimals_earned(calib::expanded(row.depth_mm, coverage).U) + 1;
    return words.text("correction.example_siphon",
                      {{"tips", std::to_string(tips)},
                       // And the time with one more than T, for the same reason.
                       {"time", numbers.figures(tips * row.interval_s, 5)},
                       {"T", numbers.figures(row.interval_s, 4)},
                       {"h", numbers.fixed(row.depth_mm.value, decimals)},
                       {"sum", numbers.pair(sum, coverage).value},
                       {"nominal_sum", numbers.significant(tips * record.gauge.nominal_tip_mm, 6)},
                       {"corrected", numbers.pair(row.corrected_intensity_mm_h, coverage).value},
                       {"indicated", numbers.figures(row.indicated_intensity_mm_h, 4)}});
}

}  // namespace

bool has_correction(const Record& record) {
    const auto& correction = record.evaluation.correction;
    return correction && !correction->rows.empty() && record.evaluation.model;
}

std::string correction_formula(const Record& record, const Words& words) {
    if (!has_correction(record)) return {};
    const calib::RateCandidate* fit = record.evaluation.model->chosen_candidate();
    if (!fit) return {};
    const Numbers numbers(words);
    const auto& p = fit->parameters;
    const double per_mL = mm_per_mL_per_cm2 / record.gauge.catch_area_cm2().value;
    constexpr int figures = 6;
    const auto digits = [&](double value) { return numbers.figures(value, figures); };
    switch (fit->form) {
        case calib::RateForm::constant:
            return words.text("correction.constant", {{"h0", digits(per_mL * p[0].value)}});
        case calib::RateForm::line:
            return words.text("correction.line",
                              {{"h0", digits(per_mL * p[0].value)}, {"tau", digits(p[1].value)}});
        case calib::RateForm::curve:
            // The root that adds: a logger computes in single precision, and the other one subtracts two
            // numbers that are nearly equal.
            return words.text("correction.curve", {{"per_mL", digits(per_mL)},
                                                   {"twice_V0", digits(2 * p[0].value)},
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

std::string correction_or_table(const Record& record, const Words& words) {
    const std::string formula = correction_formula(record, words);
    return formula.empty() ? words.text("correction.table") : formula;
}

std::string correction_in_one_line(const Record& record, const Words& words) {
    std::string out;
    for (const char c : without_marks(correction_or_table(record, words))) {
        if (c != '\n')
            out += c;
        else
            out += out.ends_with(',') ? " " : "; ";
    }
    return out;
}

std::string correction_intro(const Record& record, const Words& words) {
    return words.text(is_siphon(record) ? "correction.intro_siphon" : "correction.intro",
                      {{"nominal", Numbers(words).significant(record.gauge.nominal_tip_mm, 6)}});
}

std::string siphon_sentence(const Record& record, const Words& words) {
    return is_siphon(record) ? words.text("correction.siphon") : std::string();
}

std::string correction_example(const Record& record, const Words& words) {
    const calib::CorrectionRow& row = example_row(*record.evaluation.correction);
    if (is_siphon(record)) return siphon_example(record, words, row);
    const Numbers numbers(words);
    const double coverage = record.plan.coverage;
    return words.text("correction.example",
                      {{"T", numbers.figures(row.interval_s, 4)},
                       {"h", numbers.pair(row.depth_mm, coverage).value},
                       {"nominal", numbers.significant(record.gauge.nominal_tip_mm, 6)},
                       {"corrected", numbers.pair(row.corrected_intensity_mm_h, coverage).value},
                       {"indicated", numbers.figures(row.indicated_intensity_mm_h, 4)}});
}

std::string correction_range(const Record& record, const Words& words) {
    const Numbers numbers(words);
    const calib::Correction& correction = *record.evaluation.correction;
    const double per_hour = seconds_an_hour * record.gauge.nominal_tip_mm;
    return words.text("correction.range",
                      {{"from", numbers.figures(correction.interval_min_s, 4)},
                       {"to", numbers.figures(correction.interval_max_s, 4)},
                       {"I_from", numbers.figures(per_hour / correction.interval_max_s, 4)},
                       {"I_to", numbers.figures(per_hour / correction.interval_min_s, 4)}});
}

std::string no_correction_sentence(const Record& record, const Words& words) {
    using calib::NoCorrection;
    const NoCorrection why = record.evaluation.no_correction;
    if (why == NoCorrection::steps_doubted) return words.text("reservation.no_correction");
    return words.text("correction.none",
                      {{"reason", words.text(why == NoCorrection::one_rate ? "correction.none_one_rate"
                                                                           : "correction.none_default")}});
}

}  // namespace tipwright::report::certificate
