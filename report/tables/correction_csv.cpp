#include "report/tables/correction_csv.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "calib/rate/capability_floor.hpp"
#include "calib/rate/repeats.hpp"
#include "report/files/inert_text.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report {

namespace {

using calib::Uncertain;

void comment(std::string& out, const std::string& key, const std::string& text) {
    out += "# " + key + ": " + inert_line(visible(text)) + "\n";
}

std::string state_words(State state) {
    return state == State::as_found ? "as found" : "as left";
}

void identify(std::string& out, const Record& record, const std::string& title,
              const Sentences& reservations) {
    out += "# tipwright " + title + "\n";
    comment(out, "certificate", record.number);
    if (record.invented) comment(out, "mark", "demonstration, invented identities and data, of no validity");
    if (record.origin == Origin::virtual_bench) comment(out, "mark", "virtual bench, simulated measurement");
    if (record.origin == Origin::supplied_data) comment(out, "mark", "evaluated from supplied data");
    for (const std::string& sentence : reservations.empty() ? reservation_notes(record) : reservations)
        comment(out, "reservation", sentence);
    comment(out, "laboratory", record.laboratory.name);
    comment(out, "gauge", record.identity.model + ", serial " + record.identity.serial);
    if (!record.identity.station.empty()) comment(out, "station", record.identity.station);
    comment(out, "state", state_words(record.state));
    comment(out, "calibrated", record.started_at + " to " + record.ended_at);
    comment(out, "nominal tip", significant(record.gauge.nominal_tip_mm, 6) + " mm");
    comment(out, "catch diameter", significant(record.gauge.catch_diameter_mm.value, 6) + " mm");
    comment(
        out, "U",
        "expanded uncertainty, coverage probability " + significant(100 * record.plan.coverage, 6) + " %");
    std::string raised;
    for (const calib::StepResult& step : record.evaluation.steps)
        if (calib::is_raised(step) && is_stated(record, step.observation.step))
            raised += (raised.empty() ? "" : ", ") + std::to_string(step.observation.step);
    if (!raised.empty()) comment(out, "U raised to the laboratory's CMC at step", raised);
}

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

Result<std::string> correction_csv(const Record& record, const Sentences& reservations) {
    const auto& correction = record.evaluation.correction;
    if (!correction)
        return Fault{FaultCode::inconsistent,
                     record.evaluation.no_correction == calib::NoCorrection::steps_doubted
                         ? "no correction was derived: too few steps are free of doubt"
                     : record.evaluation.no_correction == calib::NoCorrection::one_rate
                         ? "no correction was derived: measured at one rate only"
                         : "no correction was derived: no duration or rate was given",
                     "record " + visible(record.number), "calibrate the gauge at several rates"};
    std::string out;
    identify(out, record, "correction for a logger, depth of rain per tip", reservations);
    comment(out, "formula", correction->formula);
    comment(out, "example", correction->worked_example);
    comment(out, "range",
            "tip intervals from " + significant(correction->interval_min_s, 5) + " s to " +
                significant(correction->interval_max_s, 5) + " s; nothing is stated outside it");
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

std::string results_csv(const Record& record, const Sentences& reservations) {
    std::string out;
    identify(out, record, "results of each step", reservations);
    comment(out, "limits",
            record.plan.limits.rows.empty()
                ? "none"
                : record.plan.limits.name + " (" + record.plan.limits.source + ")");
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
                   std::string(name_of(row->verdict));
        else
            out += ",,no_limit";
        out += "," + std::to_string(std::max<std::size_t>(step.repeats.size(), 1)) + "," +
               std::to_string(calib::repeats_kept(step)) + "," + std::string(name_of(claim)) + "\n";
    }
    return out;
}

std::string runs_csv(const Record& record, const Sentences& reservations) {
    std::string out;
    identify(out, record, "runs of each step", reservations);
    comment(out, "rule",
            record.plan.repeat_rule == calib::RepeatRule::discard_extremes_mean
                ? "runs of largest and smallest error discarded, mean of the rest"
                : "mean of all runs");
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
