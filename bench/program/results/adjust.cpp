
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/command.hpp"
#include "bench/program/results/adjust_view.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/screw_turns.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/program/terminal.hpp"
#include "calib/decision/adjustment.hpp"

namespace tipwright::program {

namespace {

// A file as it is; of a folder its record; of a serial the newest as-found run in the work folder.
Result<std::filesystem::path> found_record(const AdjustOptions& options) {
    std::error_code ignored;
    if (std::filesystem::is_directory(options.found, ignored)) return options.found / "record.json";
    if (std::filesystem::exists(options.found, ignored)) return options.found;
    const Round round = newest_round(kept_runs(options.work, options.found.string()));
    if (!round.found.empty()) return round.found / "record.json";
    return Fault{FaultCode::file_missing,
                 "there is neither such a record nor a complete as-found run of such a gauge in " +
                     in_quotes(options.work.string()),
                 options.found.string(), "give the record, or calibrate first"};
}

ExitCode adjust(const CommonOptions& common, const AdjustOptions& options) {
    const auto file = found_record(options);
    if (!file) return fail(common, file.fault());
    const auto found = read_record(*file);
    if (!found) return fail(common, found.fault());
    const auto screws = stop_screws_of(common, *found);
    if (!screws) return fail(common, screws.fault());
    calib::AdjustmentGoal goal = adjustment_goal(found->plan);
    goal.intensity_mm_h = options.at_mm_h;
    const auto sensitivity = screw_sensitivity(options, *found, *screws);
    if (!sensitivity) return fail(common, sensitivity.fault());
    const auto advice = calib::advise_adjustment(found->evaluation.steps, found->gauge, goal, *sensitivity,
                                                 options.setting_u_mL);
    if (!advice) return fail(common, advice.fault());
    const AdjustView view{*found, *advice, *sensitivity, *screws, sides_known(*found)};
    nlohmann::ordered_json document;
    if (common.json)
        document = advice_for_machines(view);
    else
        print_advice(view);
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
    print_checks(*checks);
    return ExitCode::done;
}

}  // namespace

void add_adjust(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "adjust", "Advise on the stop screws from an as-found record", adjust);
    command
        .add_option("found", options->found,
                    "As-found record or certificate, or the serial of a gauge with runs in the work folder")
        ->required()
        ->type_name("FILE|SERIAL");
    add_work_folder(command, options->work);
    command.add_option("--left", options->left, "As-left record: did what was expected come?")
        ->type_name("FILE");
    command.add_option("--at", options->at_mm_h,
                       "Intensity at which the error should vanish, mm/h (default: most steps pass, then "
                       "smallest largest |e| + U)");
    command.add_option("--per-turn", options->mL_per_turn, "Volume a turn of a stop screw brings, mL");
    command.add_option("--per-turn-u", options->mL_per_turn_u,
                       "Its standard uncertainty, mL (default: a tenth of it)");
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
