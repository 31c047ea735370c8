
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/screw_turns.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "calib/decision/adjustment.hpp"

namespace tipwright::program {

namespace {

std::string with_U(const calib::Uncertain& quantity, double coverage) {
    const auto rounded = calib::round_with_uncertainty(quantity.value, calib::expanded(quantity, coverage).U);
    return rounded.value + " ± " + rounded.uncertainty;
}

void print_advice(const calib::AdjustmentAdvice& advice, const report::Record& record) {
    const double coverage = record.plan.coverage;
    print_to(stdout, "Gauge %s, %s: advice on the stop screws\n", record.identity.serial.c_str(),
             record.identity.kind_title.c_str());
    print_to(stdout, "%-12s %18s %18s %10s %18s\n", "compartment", "holds now, mL", "change, mL", "change, %",
             "turns");
    for (const auto& side : advice.compartments) {
        print_to(stdout, "%-12s %18s %18s %10s %18s%s\n", side.compartment.c_str(),
                 with_U(side.present_mL, coverage).c_str(), with_U(side.change_mL, coverage).c_str(),
                 calib::fixed(side.change_percent, 2).c_str(),
                 side.turns ? with_U(*side.turns, coverage).c_str() : "not known",
                 side.significant ? "" : "  (within its uncertainty: may stay as it is)");
    }
    print_to(stdout, "\n%5s %12s %16s %22s\n", "step", "mm/h", "e found, %", "e expected after, %");
    for (const auto& step : advice.predicted) {
        print_to(stdout, "%5d %12s %16s %22s\n", step.step, calib::fixed(step.intensity_mm_h, 1).c_str(),
                 with_U(step.found_percent, coverage).c_str(), with_U(step.left_percent, coverage).c_str());
    }
    print_to(stdout, "\nLargest |e| + U: %s %% now, %s %% expected after.\n",
             calib::fixed(advice.largest_found_percent, 2).c_str(),
             calib::fixed(advice.largest_left_percent, 2).c_str());
    for (const auto& remark : advice.remarks) print_to(stdout, "Note: %s\n", remark.c_str());
}

void print_sensitivity(const std::optional<calib::ScrewSensitivity>& sensitivity, double coverage) {
    if (!sensitivity) return;
    print_to(stdout, "A turn brings %s mL", with_U(sensitivity->mL_per_turn, coverage).c_str());
    if (sensitivity->adjustments > 0)
        print_to(stdout, ", learnt from %d turned screws", sensitivity->adjustments);
    print_to(stdout, ".%s\n",
             sensitivity->widened ? " They disagree; its uncertainty was widened accordingly." : "");
}

nlohmann::ordered_json advice_for_machines(const calib::AdjustmentAdvice& advice,
                                           const report::Record& record,
                                           const std::optional<calib::ScrewSensitivity>& sensitivity) {
    const double coverage = record.plan.coverage;
    const auto pair = [&](const calib::Uncertain& quantity) {
        return nlohmann::ordered_json{{"value", quantity.value},
                                      {"U", calib::expanded(quantity, coverage).U}};
    };
    nlohmann::ordered_json document = {{"ok", true}, {"serial", record.identity.serial}};
    if (sensitivity) {
        document["mL_per_turn"] = pair(sensitivity->mL_per_turn);
        document["screws_learnt_from"] = sensitivity->adjustments;
        document["widened"] = sensitivity->widened;
    }
    auto& sides = document["compartments"] = nlohmann::ordered_json::array();
    for (const auto& side : advice.compartments) {
        nlohmann::ordered_json row = {{"compartment", side.compartment},
                                      {"present_mL", pair(side.present_mL)},
                                      {"change_mL", pair(side.change_mL)},
                                      {"change_percent", side.change_percent},
                                      {"significant", side.significant}};
        if (side.turns) row["turns"] = pair(*side.turns);
        sides.push_back(row);
    }
    auto& steps = document["steps"] = nlohmann::ordered_json::array();
    for (const auto& step : advice.predicted)
        steps.push_back({{"step", step.step},
                         {"intensity_mm_h", step.intensity_mm_h},
                         {"found_percent", pair(step.found_percent)},
                         {"expected_percent", pair(step.left_percent)}});
    document["largest_found_percent"] = advice.largest_found_percent;
    document["largest_expected_percent"] = advice.largest_left_percent;
    document["remarks"] = advice.remarks;
    return document;
}

ExitCode adjust(const CommonOptions& common, const AdjustOptions& options) {
    const auto found = read_record(options.found);
    if (!found) return fail(common, found.fault());
    calib::AdjustmentGoal goal;
    goal.intensity_mm_h = options.at_mm_h;
    goal.coverage = found->plan.coverage;
    const auto sensitivity = screw_sensitivity(common, options, *found);
    if (!sensitivity) return fail(common, sensitivity.fault());
    const auto advice = calib::advise_adjustment(found->evaluation.steps, found->gauge, goal, *sensitivity,
                                                 options.setting_u_mL);
    if (!advice) return fail(common, advice.fault());
    nlohmann::ordered_json document;
    if (common.json) {
        document = advice_for_machines(*advice, *found, *sensitivity);
    } else {
        print_advice(*advice, *found);
        print_sensitivity(*sensitivity, goal.coverage);
    }
    if (options.left.empty()) {
        if (common.json) print_json(document);
        return ExitCode::done;
    }

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
    if (common.json) {
        auto& rows = document["as_left"] = nlohmann::ordered_json::array();
        for (const auto& check : *checks)
            rows.push_back({{"step", check.step},
                            {"intensity_mm_h", check.intensity_mm_h},
                            {"predicted_percent", check.predicted_percent},
                            {"measured_percent", check.measured_percent},
                            {"en", check.en},
                            {"as_predicted", check.as_predicted}});
        print_json(document);
        return ExitCode::done;
    }
    print_to(stdout, "\nAs left against what was expected:\n%5s %12s %14s %14s %8s\n", "step", "mm/h",
             "expected, %", "measured, %", "E_n");
    for (const auto& check : *checks) {
        print_to(
            stdout, "%5d %12s %14s %14s %8s%s\n", check.step, calib::fixed(check.intensity_mm_h, 1).c_str(),
            calib::fixed(check.predicted_percent, 2).c_str(), calib::fixed(check.measured_percent, 2).c_str(),
            calib::fixed(check.en, 2).c_str(), check.as_predicted ? "" : "  not as expected");
    }
    return ExitCode::done;
}

}  // namespace

void add_adjust(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "adjust", "Advise on the stop screws from an as-found record", adjust);
    command.add_option("found", options->found, "As-found record or certificate")
        ->required()
        ->type_name("FILE");
    command.add_option("--left", options->left, "As-left record: did what was expected come?")
        ->type_name("FILE");
    command.add_option(
        "--at", options->at_mm_h,
        "Intensity at which the error should vanish, mm/h (default: smallest largest |e| + U)");
    command.add_option("--per-turn", options->mL_per_turn, "Volume a turn of a stop screw brings, mL");
    command.add_option("--per-turn-u", options->mL_per_turn_u, "Its standard uncertainty, mL");
    command.add_option("--setting-u", options->setting_u_mL, "How well a compartment can be set, mL")
        ->capture_default_str();
    command
        .add_option(
            "--earlier", options->earlier,
            "An earlier adjustment of such a gauge, to learn from: as-found and as-left record, turns of "
            "the screws of A and B (or of the spoon), apart by commas; may be repeated")
        ->type_name("FOUND,LEFT,A[,B]");
}

}  // namespace tipwright::program
