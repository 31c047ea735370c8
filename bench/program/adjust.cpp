#include "calib/adjustment.hpp"

#include <cstdio>

#include "bench/program/commands.hpp"
#include "bench/program/read_record.hpp"
#include "calib/rounding.hpp"

namespace tipwright::program {

namespace {

std::string with_U(const calib::Uncertain& quantity, double coverage) {
    const auto rounded = calib::round_with_uncertainty(quantity.value, calib::expanded(quantity, coverage).U);
    return rounded.value + " ± " + rounded.uncertainty;
}

void print_advice(const calib::AdjustmentAdvice& advice, const report::Record& record) {
    const double coverage = record.plan.coverage;
    std::printf("Gauge %s, %s: advice on the stop screws\n", record.identity.serial.c_str(),
                record.identity.kind_title.c_str());
    std::printf("%-12s %18s %18s %10s %18s\n", "compartment", "holds now, mL", "change, mL", "change, %",
                "turns");
    for (const auto& side : advice.compartments) {
        std::printf("%-12s %18s %18s %10s %18s%s\n", side.compartment.c_str(),
                    with_U(side.present_mL, coverage).c_str(), with_U(side.change_mL, coverage).c_str(),
                    calib::fixed(side.change_percent, 2).c_str(),
                    side.turns ? with_U(*side.turns, coverage).c_str() : "not known",
                    side.significant ? "" : "  (within its uncertainty: may stay as it is)");
    }
    std::printf("\n%5s %12s %16s %22s\n", "step", "mm/h", "e found, %", "e expected after, %");
    for (const auto& step : advice.predicted) {
        std::printf("%5d %12s %16s %22s\n", step.step, calib::fixed(step.intensity_mm_h, 1).c_str(),
                    with_U(step.found_percent, coverage).c_str(),
                    with_U(step.left_percent, coverage).c_str());
    }
    std::printf("\nLargest |e| + U: %s %% now, %s %% expected after.\n",
                calib::fixed(advice.largest_found_percent, 2).c_str(),
                calib::fixed(advice.largest_left_percent, 2).c_str());
    for (const auto& remark : advice.remarks) std::printf("Note: %s\n", remark.c_str());
}

}  // namespace

ExitCode adjust(const CommonOptions& common, const AdjustOptions& options) {
    const auto found = read_record(options.found);
    if (!found) return fail(common, found.fault());
    calib::AdjustmentGoal goal;
    goal.intensity_mm_h = options.at_mm_h;
    goal.coverage = found->plan.coverage;
    std::optional<calib::ScrewSensitivity> sensitivity;
    if (options.mL_per_turn) {
        auto learnt =
            calib::learn_screw_sensitivity({}, calib::Uncertain{*options.mL_per_turn, options.mL_per_turn_u});
        if (!learnt) return fail(common, learnt.fault());
        sensitivity = std::move(*learnt);
    }
    const auto advice = calib::advise_adjustment(found->evaluation.steps, found->gauge, goal, sensitivity,
                                                 options.setting_u_mL);
    if (!advice) return fail(common, advice.fault());
    print_advice(*advice, *found);
    if (options.left.empty()) return ExitCode::done;

    const auto left = read_record(options.left);
    if (!left) return fail(common, left.fault());
    if (left->identity.serial != found->identity.serial) {
        return fail(common, {FaultCode::inconsistent,
                             "the records are of two gauges, " + found->identity.serial + " and " +
                                 left->identity.serial,
                             options.left.string(), "give records of one gauge, before and after"});
    }
    const auto checks =
        calib::check_prediction(*advice, found->evaluation.steps, left->evaluation.steps, goal.coverage);
    if (!checks) return fail(common, checks.fault());
    std::printf("\nAs left against what was expected:\n%5s %12s %14s %14s %8s\n", "step", "mm/h",
                "expected, %", "measured, %", "E_n");
    for (const auto& check : *checks) {
        std::printf("%5d %12s %14s %14s %8s%s\n", check.step, calib::fixed(check.intensity_mm_h, 1).c_str(),
                    calib::fixed(check.predicted_percent, 2).c_str(),
                    calib::fixed(check.measured_percent, 2).c_str(), calib::fixed(check.en, 2).c_str(),
                    check.as_predicted ? "" : "  not as expected");
    }
    return ExitCode::done;
}

}  // namespace tipwright::program
