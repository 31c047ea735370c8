#include "report/tables/correction_csv.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/rate/repeats.hpp"
#include "report/certificate/verdict_words.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/table_head.hpp"

namespace tipwright::report {

namespace {

using calib::Uncertain;

// "value,U"
std::string pair(double value, double expanded_U) {
    const calib::RoundedPair rounded = calib::round_with_uncertainty(value, expanded_U);
    return rounded.value + "," + rounded.uncertainty;
}

std::string pair(const Uncertain& quantity, double coverage) {
    return pair(quantity.value, calib::expanded(quantity, coverage).U);
}

}  // namespace

std::string significant(double value, int digits) {
    if (!(value != 0) || !std::isfinite(value)) return calib::fixed(value, 0);
    const int magnitude = static_cast<int>(std::floor(std::log10(std::abs(value))));
    std::string text = calib::fixed(value, std::max(0, digits - 1 - magnitude));
    // Digits that say nothing: 20.000 is 20.
    if (text.find('.') != std::string::npos) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') text.pop_back();
    }
    return text;
}

Result<std::string> correction_csv(const Record& record, const certificate::Words& words, TableForm form) {
    const auto& correction = record.evaluation.correction;
    if (!correction)
        return Fault{FaultCode::inconsistent,
                     record.evaluation.no_correction == calib::NoCorrection::steps_doubted
                         ? "no correction was derived: too few steps are free of doubt"
                     : record.evaluation.no_correction == calib::NoCorrection::one_rate
                         ? "no correction was derived: measured at one rate only"
                         : "no correction was derived: no duration or rate was given",
                     "record " + visible(record.number), "calibrate the gauge at several rates"};
    std::string out = table_head(record, "correction", words, form);
    out +=
        "interval_s,indicated_intensity_mm_h,depth_mm,U_depth_mm,corrected_intensity_mm_h,"
        "U_corrected_intensity_mm_h,factor,U_factor\n";
    const double coverage = record.plan.coverage;
    for (const calib::CorrectionRow& row : correction->rows)
        out += significant(row.interval_s, 6) + "," + significant(row.indicated_intensity_mm_h, 6) + "," +
               pair(row.depth_mm, coverage) + "," + pair(row.corrected_intensity_mm_h, coverage) + "," +
               pair(row.factor, row.factor_U) + "\n";
    return out;
}

std::string results_csv(const Record& record, const certificate::Words& words, TableForm form) {
    std::string out = table_head(record, "results", words, form);
    out +=
        "step,set_intensity_mm_h,reference_intensity_mm_h,U_reference_intensity_mm_h,"
        "indicated_intensity_mm_h,flow_mL_min,U_flow_mL_min,tips,duration_s,mean_interval_s,mass_g,"
        "volume_per_tip_mL,U_volume_per_tip_mL,error_percent,U_error_percent,k,limit_low_percent,"
        "limit_high_percent,verdict,runs,runs_used,claim\n";
    const double coverage = record.plan.coverage;
    const auto pair_or_empty = [&](const std::optional<Uncertain>& quantity) {
        return quantity ? pair(*quantity, coverage) : ",";
    };
    const auto or_empty = [](const std::optional<double>& value) {
        return value ? significant(*value, 6) : std::string();
    };
    for (const calib::StepResult& step : record.evaluation.steps) {
        const calib::StepObservation& seen = step.observation;
        const auto& judged = record.evaluation.conformity.steps;
        const auto row =
            std::find_if(judged.begin(), judged.end(), [&](const calib::StepConformity& candidate) {
                return candidate.step == seen.step && candidate.verdict != calib::Verdict::no_limit;
            });
        const calib::StepStatement* stated = record.statement.of_step(seen.step);
        const calib::Claim claim = stated != nullptr ? stated->result : calib::Claim::stated;
        const std::string set = seen.set_intensity_mm_h > 0 ? significant(seen.set_intensity_mm_h, 6) : "";
        if (claim == calib::Claim::not_stated) {
            // What was done, and no result.
            out += std::to_string(seen.step) + "," + set + ",,,,,," + std::to_string(seen.tips) + "," +
                   or_empty(seen.duration_s) + ",,,,,,,,,,not_stated,,," + std::string(name_of(claim)) + "\n";
            continue;
        }
        out += std::to_string(seen.step) + "," + set + "," + pair_or_empty(step.reference_intensity_mm_h) +
               "," + or_empty(step.indicated_intensity_mm_h) + "," + pair_or_empty(step.flow_mL_min) + "," +
               std::to_string(seen.tips) + "," + or_empty(seen.duration_s) + "," +
               or_empty(step.mean_interval_s) + "," + significant(step.mass_g, 6) + "," +
               pair(step.volume_per_tip_mL, coverage) + "," +
               pair(step.error_percent.value, step.error_expanded.U) + "," +
               calib::fixed(step.error_expanded.k, 2) + ",";
        if (row != judged.end())
            out += significant(row->low_percent, 6) + "," + significant(row->high_percent, 6) + "," +
                   (form == TableForm::of_1_0 ? std::string(name_of(row->verdict))
                                              : certificate::verdict_cell(record, seen.step, row->verdict));
        else
            out += ",,no_limit";
        out += "," + std::to_string(std::max<std::size_t>(step.repeats.size(), 1)) + "," +
               std::to_string(calib::repeats_kept(step)) + "," + std::string(name_of(claim)) + "\n";
    }
    return out;
}

std::string runs_csv(const Record& record, const certificate::Words& words, TableForm form) {
    std::string out = table_head(record, "runs", words, form);
    out +=
        "step,run,used,set_intensity_mm_h,reference_intensity_mm_h,U_reference_intensity_mm_h,tips,duration_"
        "s,"
        "volume_per_tip_mL,U_volume_per_tip_mL,error_percent,U_error_percent,k\n";
    const double coverage = record.plan.coverage;
    for (const calib::StepResult& step : stated_steps(record)) {
        for (const calib::StepRepeat& run : step.repeats) {
            const calib::StepObservation& seen = run.observation;
            out += std::to_string(seen.step) + "," + std::to_string(seen.repeat) + "," +
                   (run.kept ? "yes," : "no,") +
                   (seen.set_intensity_mm_h > 0 ? significant(seen.set_intensity_mm_h, 6) : "") + "," +
                   (run.reference_intensity_mm_h ? pair(*run.reference_intensity_mm_h, coverage) : ",") +
                   "," + std::to_string(seen.tips) + "," +
                   (seen.duration_s ? significant(*seen.duration_s, 6) : "") + "," +
                   pair(run.volume_per_tip_mL, coverage) + "," +
                   pair(run.error_percent.value, run.error_expanded.U) + "," +
                   calib::fixed(run.error_expanded.k, 2) + "\n";
        }
    }
    return out;
}

}  // namespace tipwright::report
