#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/results/adjust_view.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/screw_turns.hpp"
#include "bench/program/run/records_meant.hpp"
#include "bench/program/terminal.hpp"
#include "calib/decision/adjustment.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

ExitCode adjust(const CommonOptions& common, const AdjustOptions& options) {
    const auto file = record_meant(options.found, options.work, false);
    if (!file) return fail(common, file.fault());
    const auto found = read_sound_record(*file);
    if (!found) return fail(common, found.fault());
    const auto screws = stop_screws_of(common, *found);
    if (!screws) return fail(common, screws.fault());
    calib::AdjustmentGoal goal = adjustment_goal(found->plan);
    goal.intensity_mm_h = options.at_mm_h;
    const auto sensitivity = screw_sensitivity(options, *found, *screws);
    if (!sensitivity) return fail(common, sensitivity.fault());
    const auto advice = advise(*found, goal, *sensitivity, options.setting_u_mL);
    if (!advice) return fail(common, advice.fault());
    const AdjustView view{*found, *advice, *sensitivity, *screws, sides_known(*found)};
    nlohmann::ordered_json document;
    // A serial number means the latest of several runs: which one was taken is said.
    if (common.json) {
        document = advice_for_machines(view);
        document["found_record"] = file->string();
    } else {
        print_to(stdout, "Record as found: %s\n", file->string().c_str());
        print_advice(view);
    }
    if (options.left.empty()) {
        if (common.json) print_json(document);
        return ExitCode::done;
    }

    const auto left_file = record_meant(options.left, options.work, true);
    if (!left_file) return fail(common, left_file.fault());
    const auto left = read_sound_record(*left_file);
    if (!left) return fail(common, left.fault());
    if (left->identity.serial != found->identity.serial) {
        return fail(common, {FaultCode::inconsistent,
                             "the records are of two gauges, " + found->identity.serial + " and " +
                                 left->identity.serial,
                             options.left.string(), "give records of one gauge, before and after"});
    }
    const auto checks = calib::check_prediction(*advice, report::stated_steps(*found),
                                                report::stated_steps(*left), goal.coverage);
    if (!checks) return fail(common, checks.fault());
    const auto balance = found->gauge.compartments == 2
                             ? calib::side_balance(report::stated_steps(*found), report::stated_steps(*left),
                                                   options.setting_u_mL, goal.coverage)
                             : std::nullopt;
    if (common.json) {
        document["left_record"] = left_file->string();
        auto& rows = document["as_left"] = nlohmann::ordered_json::array();
        for (const auto& check : *checks)
            rows.push_back({{"step", check.step},
                            {"intensity_mm_h", check.intensity_mm_h},
                            {"predicted_percent", check.predicted_percent},
                            {"measured_percent", check.measured_percent},
                            {"en", check.en},
                            {"as_predicted", check.as_predicted}});
        if (balance)
            document["compartments_as_left"] =
                balance_for_machines(*balance, sides_known(*left), sides_known(*found));
        print_json(document);
        return ExitCode::done;
    }
    print_to(stdout, "\nRecord as left: %s", left_file->string().c_str());
    print_checks(*checks);
    if (balance)
        print_balance({*left, *advice, *sensitivity, *screws, sides_known(*left)}, *balance);
    else if (found->gauge.compartments == 2)
        print_to(stdout,
                 "\nThe run as left does not tell the compartments apart: whether they are alike is not "
                 "known.\n");
    return ExitCode::done;
}

}  // namespace

void add_adjust(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "adjust", "Advise on the stop screws from an as-found record", adjust);
    command
        .add_option("found", options->found,
                    "As-found record or certificate, or the serial of a gauge with runs in the work folder")
        .required()
        .type_name("FILE|SERIAL");
    add_work_folder(command, options->work);
    command
        .add_option("--left", options->left,
                    "As-left record, or the serial again: is the result as expected, are the sides alike?")
        .type_name("FILE|SERIAL");
    command.add_option("--at", options->at_mm_h,
                       "Intensity at which the error should vanish, mm/h (default: where most steps pass "
                       "and, if several are equal, the largest |e| + U is smallest)");
    command.add_option("--per-turn", options->mL_per_turn, "Change of volume per turn of a stop screw, mL");
    command.add_option("--per-turn-u", options->mL_per_turn_u,
                       "Standard uncertainty of --per-turn, mL (default: a tenth of it)");
    command
        .add_option("--setting-u", options->setting_u_mL,
                    "Standard uncertainty with which a compartment can be set, mL")
        .show_default();
    command
        .add_option(
            "--earlier", options->earlier,
            "An earlier adjustment of such a gauge, to learn from: as-found and as-left record, turns of "
            "the screws of A and B (or of the spoon), separated by commas; may be repeated")
        .type_name("FOUND,LEFT,A[,B]");
}

}  // namespace tipwright::program
