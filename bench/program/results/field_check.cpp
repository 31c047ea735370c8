
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/command.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "calib/decision/field_check.hpp"

namespace tipwright::program {

namespace {

struct FieldCheckOptions {
    std::string gauge;
    int tips = 0;
    std::optional<double> poured_mL;
    double poured_u_mL = 0.5;
    double retained_mL = 0;
    double retained_u_mL = 0.5;
    std::optional<double> collected_g;
    double collected_u_g = 0.5;
    double lost_g = 0;
    double lost_u_g = 0.5;
    double water_temperature_C = 20;
    std::optional<double> logged_depth_mm;
    std::optional<double> duration_s;
    std::optional<double> limit_percent;
    bool began_on_tip = false;
    bool ended_on_tip = false;
};

ExitCode field_check(const CommonOptions& common, const FieldCheckOptions& options) {
    const auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return fail(common, gauge.fault());
    std::optional<calib::FieldLimits> limits;
    if (options.limit_percent) limits = calib::FieldLimits{-*options.limit_percent, *options.limit_percent};
    Result<calib::FieldCheck> check =
        Fault{FaultCode::usage, "neither --poured-mL nor --collected-g was given", "field-check",
              "give the volume poured in, or the mass collected at the drain"};
    if (options.poured_mL) {
        calib::PourCheck pour;
        pour.poured_mL = {*options.poured_mL, options.poured_u_mL};
        pour.retained_mL = {options.retained_mL, options.retained_u_mL};
        pour.tips = options.tips;
        pour.duration_s = options.duration_s;
        if (options.ended_on_tip) pour.end = calib::FillLevel::at_tip;
        check = calib::evaluate_pour(pour, gauge->gauge, limits);
    } else if (options.collected_g) {
        calib::DischargeCheck discharge;
        discharge.weighed_g = {*options.collected_g, options.collected_u_g};
        discharge.lost_g = {options.lost_g, options.lost_u_g};
        discharge.conditions.water_temperature_C = options.water_temperature_C;
        discharge.logged_tips = options.tips;
        discharge.logged_depth_mm = options.logged_depth_mm;
        if (options.began_on_tip) discharge.begin = calib::FillLevel::at_tip;
        if (options.ended_on_tip) discharge.end = calib::FillLevel::at_tip;
        check = calib::evaluate_discharge(discharge, gauge->gauge, limits);
    }
    if (!check) return fail(common, check.fault());
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", true},
                                           {"serial", gauge->serial},
                                           {"tips", options.tips},
                                           {"volume_mL", check->volume_mL.value},
                                           {"depth_true_mm", check->depth_true_mm},
                                           {"depth_indicated_mm", check->depth_indicated_mm},
                                           {"error_percent", check->error_percent.value},
                                           {"error_U_percent", check->error_expanded.U},
                                           {"k", check->error_expanded.k}};
        if (check->intensity_mm_h) document["intensity_mm_h"] = *check->intensity_mm_h;
        if (check->conformity) {
            document["verdict"] = name_of(check->conformity->verdict);
            document["limit_percent"] = *options.limit_percent;
            document["decision_rule"] = "simple acceptance";
            document["wrong_probability"] = check->conformity->wrong_probability;
        }
        document["remarks"] = check->remarks;
        print_json(document);
        return ExitCode::done;
    }
    const auto volume =
        calib::round_with_uncertainty(check->volume_mL.value, calib::expanded(check->volume_mL).U);
    const auto error = calib::round_with_uncertainty(check->error_percent.value, check->error_expanded.U);
    print_to(stdout, "Field check of gauge %s, %s: %d tips\n",
             gauge->serial.empty() ? "(no serial)" : gauge->serial.c_str(), gauge->kind_title.c_str(),
             options.tips);
    print_to(stdout, "Water through the gauge  %s mL ± %s mL\n", volume.value.c_str(),
             volume.uncertainty.c_str());
    print_to(stdout, "Depth, true / indicated  %s mm / %s mm\n",
             calib::fixed(check->depth_true_mm, 2).c_str(),
             calib::fixed(check->depth_indicated_mm, 2).c_str());
    if (check->intensity_mm_h)
        print_to(stdout, "Mean intensity           %s mm/h\n",
                 calib::fixed(*check->intensity_mm_h, 1).c_str());
    print_to(stdout, "Error of indication      %s %% ± %s %% (k = %s)\n", error.value.c_str(),
             error.uncertainty.c_str(), calib::fixed(check->error_expanded.k, 2).c_str());
    if (check->conformity) {
        const char* verdict = check->conformity->verdict == calib::Verdict::pass   ? "within"
                              : check->conformity->verdict == calib::Verdict::fail ? "outside"
                                                                                   : "undecided against";
        print_to(stdout, "Verdict                  %s ±%s %%, simple acceptance; wrong with probability %s\n",
                 verdict, calib::fixed(*options.limit_percent, 1).c_str(),
                 calib::fixed(check->conformity->wrong_probability, 3).c_str());
    }
    for (const auto& remark : check->remarks) print_to(stdout, "Note: %s\n", remark.c_str());
    return ExitCode::done;
}

}  // namespace

void add_field_check(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "field-check",
                    "Check a gauge in the field: known volume poured, or discharge collected", field_check);
    command.add_option("--gauge", options->gauge, "Gauge or gauge kind")->required()->type_name("FILE");
    command.add_option("--tips", options->tips, "Tips counted")->required();
    auto* poured = command.add_option("--poured-mL", options->poured_mL, "Known volume poured or dripped in");
    command.add_option("--poured-u-mL", options->poured_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    command.add_option("--retained-mL", options->retained_mL, "Water that clung to funnel and filter");
    command.add_option("--retained-u-mL", options->retained_u_mL, "Its standard uncertainty")
        ->capture_default_str();
    command.add_option("--collected-g", options->collected_g, "Water collected at the drain, weighed later")
        ->excludes(poured);
    command.add_option("--collected-u-g", options->collected_u_g, "Its standard uncertainty")
        ->capture_default_str();
    command.add_option("--lost-g", options->lost_g, "Evaporated or spilt before weighing");
    command.add_option("--lost-u-g", options->lost_u_g, "Its standard uncertainty")->capture_default_str();
    command.add_option("--water-temperature-C", options->water_temperature_C, "At the weighing")
        ->capture_default_str();
    command.add_option("--logged-mm", options->logged_depth_mm, "Depth the logger recorded, if it corrects");
    command.add_option("--duration-s", options->duration_s, "How long the pouring took");
    command.add_flag("--began-on-tip", options->began_on_tip,
                      "Counting began right after a tip (when water is poured it always does)");
    command.add_flag("--ended-on-tip", options->ended_on_tip,
                      "Counting ended right after a tip: no part of one is left over");
    command.add_option("--limit", options->limit_percent, "Allowed error, %");
}

}  // namespace tipwright::program
