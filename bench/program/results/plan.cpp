// tipwright plan: which intensities and how many tips give the correction with a wanted uncertainty in the
// least bench time.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/reading.hpp"
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "calib/trial/shortest_plan.hpp"
#include "report/files/files.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

namespace trial = calib::trial;

struct PlanOptions {
    std::string gauge;
    std::string bench;
    std::filesystem::path record;  // of such a gauge: what is to be expected of it
    double from_mm_h = 6;
    double to_mm_h = 254;
    double wanted_U_percent = 0;  // 0: that of the record, else what the other plan gives
    double scatter_percent = 0;   // 0: from the record, else 0.5
    double movement_s = -1;
    std::string form = "line";
    std::string keep;  // plan whose steps are demanded
    std::string against = "ten-rate";
    std::string limits;  // to be judged by the plan written
    std::filesystem::path out;
};

// Where nothing better is known: two-compartment buckets scatter by about as much (common practice, no
// source).
constexpr double usual_scatter_percent = 0.5;
constexpr double usual_movement_s = 0.4;
// A step of the plan written ends with its tips, not with an uncertainty of its own.
constexpr double widest_target_U_percent = 20;

Outcome expect_from_record(const report::Record& record, trial::ExpectedGauge& expected,
                           calib::BenchMetrology& bench) {
    bench = record.bench;
    double scatter = 0;
    double dof = 0;
    for (const calib::StepResult& step : report::stated_steps(record)) {
        const calib::TipScatter& one = step.observation.scatter;
        if (!(one.dof > 0)) continue;
        scatter += one.dof * one.sd_percent * one.sd_percent;
        dof += one.dof;
    }
    if (dof > 0 && scatter > 0) expected.tip_scatter_percent = std::sqrt(scatter / dof);
    if (!record.evaluation.model) return Done{};
    for (const calib::RateCandidate& candidate : record.evaluation.model->candidates) {
        const bool wanted =
            candidate.form == (expected.curved ? calib::RateForm::curve : calib::RateForm::line);
        if (!wanted || candidate.parameters.size() < 2) continue;
        expected.volume_per_tip_mL = candidate.parameters[0].value;
        expected.movement_s = std::max(0.0, candidate.parameters[1].value);
        if (candidate.parameters.size() > 2) expected.curvature_s2_mL = candidate.parameters[2].value;
    }
    return Done{};
}

struct Asked {
    trial::PlanQuestion question;
    trial::DesignedPlan other;    // the plan it is held against
    double record_U_percent = 0;  // of the record's correction; 0: none
    bench::PlanDescription other_plan;
};

Result<Asked> ask(const CommonOptions& common, const PlanOptions& options) {
    Asked out;
    trial::PlanQuestion& question = out.question;
    const auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return gauge.fault();
    const auto bench = bench::load_bench(options.bench, common.templates);
    if (!bench) return bench.fault();
    trial::ExpectedGauge& expected = question.expected;
    expected.gauge = gauge->gauge;
    expected.curved = options.form == "curve";
    expected.volume_per_tip_mL = gauge->gauge.nominal_tip_mL();
    expected.tip_scatter_percent = usual_scatter_percent;
    expected.movement_s = usual_movement_s;
    question.bench = bench->metrology;
    if (!options.record.empty()) {
        const auto record = read_sound_record(options.record);
        if (!record) return record.fault();
        if (auto taken = expect_from_record(*record, expected, question.bench); !taken) return taken.fault();
        if (record->evaluation.correction)
            for (const calib::CorrectionRow& row : record->evaluation.correction->rows)
                out.record_U_percent = std::max(out.record_U_percent, 100 * row.factor_U / row.factor);
        question.bench = bench->metrology;
    }
    if (options.scatter_percent > 0) expected.tip_scatter_percent = options.scatter_percent;
    if (options.movement_s >= 0) expected.movement_s = options.movement_s;
    question.from_mm_h = options.from_mm_h;
    question.to_mm_h = options.to_mm_h;
    if (gauge->gauge.max_intensity_mm_h > 0 && !(options.to_mm_h <= gauge->gauge.max_intensity_mm_h))
        return Fault{FaultCode::inconsistent,
                     calib::fixed(options.to_mm_h, 0) + " mm/h lie beyond the " +
                         calib::fixed(gauge->gauge.max_intensity_mm_h, 0) + " mm/h that the maker declares",
                     "plan", "lower --to"};
    const double flow = calib::flow_mL_min(options.to_mm_h, gauge->gauge.catch_area_cm2().value);
    if (!(flow <= bench->max_flow_mL_min))
        return Fault{FaultCode::inconsistent,
                     calib::fixed(options.to_mm_h, 0) + " mm/h are " + calib::fixed(flow, 0) +
                         " mL/min, more than the bench's pump delivers",
                     "plan", "lower --to"};
    // The first step is the highest rate: what wets the gauge fastest.
    question.wetting_intensity_mm_h = options.to_mm_h;
    if (!options.keep.empty()) {
        const auto demanded = bench::load_plan(options.keep, common.templates);
        if (!demanded) return demanded.fault();
        for (const calib::PlanStep& step : demanded->plan.steps) question.demanded.push_back(step);
    }
    auto other_plan = bench::load_plan(options.against, common.templates);
    if (!other_plan) return other_plan.fault();
    out.other_plan = std::move(*other_plan);
    trial::PlanQuestion as_planned = question;
    as_planned.settle_tips = out.other_plan.plan.settle_tips;
    as_planned.settle_s = out.other_plan.plan.settle_s;
    as_planned.wetting_intensity_mm_h = out.other_plan.plan.wetting_intensity_mm_h;
    as_planned.wetting_tips = out.other_plan.plan.wetting_tips;
    auto other = trial::rate_plan(as_planned, out.other_plan.plan.steps);
    if (!other) return other.fault();
    out.other = std::move(*other);
    // As precise as the record; else what the other plan's evaluation would state, doubt of the form
    // included. The same is what is stated alike, with two figures.
    double U = std::isfinite(out.other.U_free_percent) ? out.other.U_free_percent : out.other.U_percent;
    if (out.record_U_percent > 0) U = out.record_U_percent;
    const auto stated = calib::round_with_uncertainty(0, U);
    const double half_digit = 0.5 * std::pow(10.0, -stated.decimals);
    question.wanted_U_percent = options.wanted_U_percent > 0
                                    ? options.wanted_U_percent
                                    : std::max(U, std::stod(stated.uncertainty) + 0.99 * half_digit);
    return out;
}

std::vector<double> precisions(double wanted) {
    std::vector<double> out;
    for (double factor : {0.97, 1.0, 1.05, 1.15, 1.3, 1.6, 2.0, 3.0}) out.push_back(factor * wanted);
    return out;
}

std::string text_of_plan(const PlanOptions& options, const trial::PlanQuestion& question,
                         const trial::DesignedPlan& plan) {
    std::string out = "# The shortest plan for U(h) = " + calib::fixed(plan.U_percent, 2) + " % over " +
                      bench::shortest(question.from_mm_h) + " to " + bench::shortest(question.to_mm_h) +
                      " mm/h, designed for gauge " + options.gauge + " on bench " + options.bench +
                      ".\n# It rests on the form v = V0 + tau Q" +
                      (question.expected.curved ? " + c Q^2" : "") +
                      ": between its steps nothing is measured.\n\n";
    out += "title = " +
           bench::toml_quoted("Shortest plan, " + bench::shortest(question.from_mm_h) + " to " +
                              bench::shortest(question.to_mm_h) + " mm/h") +
           "\ntarget_U_percent = " + bench::shortest(widest_target_U_percent) +
           "   # a step ends with its tips\ncoverage = " + bench::shortest(question.coverage) + "\n";
    if (!options.limits.empty()) out += "limits = " + bench::toml_quoted(options.limits) + "\n";
    out += "\n[wetting]\nintensity_mm_h = " + bench::shortest(question.wetting_intensity_mm_h) +
           "\ntips = " + std::to_string(question.wetting_tips) +
           "\n\n[settle]\ntips = " + std::to_string(question.settle_tips) +
           "\ntime_s = " + bench::shortest(question.settle_s) + "\n";
    if (!options.limits.empty()) out += "\n[decision]\nrule = \"simple acceptance\"\n";
    for (const trial::PlannedStep& step : plan.steps)
        out += "\n[[step]]\nintensity_mm_h = " + bench::shortest(step.intensity_mm_h) +
               "\nmin_tips = " + std::to_string(step.tips) + "\ntime_limit_s = " +
               bench::shortest(std::min(172800.0, std::ceil(3 * 60 * step.minutes + 120))) + "\n";
    return out;
}

const char* proof_sentence(const trial::PlanQuestion& question) {
    return question.demanded.empty()
               ? "It proves the correction over the range for gauges whose form is known, by their kind or "
                 "an earlier calibration: its few steps find a strong bend, not a slight one. It proves "
                 "conformity only at its own steps; at other intensities the error is concluded from the "
                 "form, and a standard that demands steps there is not met (--keep PLAN keeps them)."
               : "It proves conformity at the demanded steps, each measured with no "
                 "fewer tips than demanded, and the "
                 "correction over the range for gauges whose form is known; at other intensities the error "
                 "is concluded from the form.";
}

nlohmann::ordered_json json_of(const trial::DesignedPlan& plan) {
    nlohmann::ordered_json out = {{"minutes", plan.minutes}, {"U_percent", plan.U_percent}};
    if (std::isfinite(plan.U_free_percent)) out["U_form_not_taken_for_granted_percent"] = plan.U_free_percent;
    auto& steps = out["steps"] = nlohmann::ordered_json::array();
    for (const trial::PlannedStep& step : plan.steps)
        steps.push_back({{"intensity_mm_h", step.intensity_mm_h},
                         {"tips", step.tips},
                         {"minutes", step.minutes},
                         {"demanded", step.demanded}});
    return out;
}

nlohmann::ordered_json json_of(const trial::PlanPromise& promise) {
    return {{"runs_drawn", promise.runs},
            {"keep_wanted_U_percent", 100 * promise.kept},
            {"U_of_half_percent", promise.U_middle_percent},
            {"U_of_95_of_100_percent", promise.U_most_percent},
            {"form_rejected_percent", 100 * promise.form_rejected},
            {"U_where_rejected_percent", promise.U_rejected_percent}};
}

// A run states what it saw, not what was planned.
std::string promise_sentence(const trial::PlanPromise& promise, double wanted_U_percent) {
    std::string out = "what runs will state: U(h) of no more than " + calib::fixed(wanted_U_percent, 2) +
                      " % in " + calib::fixed(100 * promise.kept, 0) + " of 100, than " +
                      calib::fixed(promise.U_middle_percent, 2) + " % in half of them, than " +
                      calib::fixed(promise.U_most_percent, 2) + " % in 95";
    if (promise.form_rejected > 0)
        out += "; in " + calib::fixed(100 * promise.form_rejected, 0) +
               " the test of the form fails by chance and U(h) is about " +
               calib::fixed(promise.U_rejected_percent, 2) + " %";
    return out;
}

ExitCode run_plan(const CommonOptions& common, const PlanOptions& options) {
    const auto asked = ask(common, options);
    if (!asked) return fail(common, asked.fault());
    const trial::PlanQuestion& question = asked->question;
    const auto plan = trial::shortest_plan(question);
    if (!plan) return fail(common, plan.fault());
    const auto promise = trial::promise_of(question, *plan);
    if (!promise) return fail(common, promise.fault());
    const auto curve = trial::time_against_precision(question, precisions(question.wanted_U_percent));
    if (!options.out.empty())
        if (auto written = write_file(options.out, text_of_plan(options, question, *plan)); !written)
            return fail(common, written.fault());
    if (common.json) {
        nlohmann::ordered_json document = {{"ok", true},
                                           {"plan", json_of(*plan)},
                                           {"against",
                                            {{"name", options.against},
                                             {"minutes", asked->other.minutes},
                                             {"U_percent", asked->other.U_percent}}},
                                           {"runs_to_expect", json_of(*promise)},
                                           {"proves", proof_sentence(question)}};
        auto& rows = document["time_against_precision"] = nlohmann::ordered_json::array();
        for (const trial::DesignedPlan& one : curve) rows.push_back(json_of(one));
        if (!options.out.empty()) document["written"] = options.out.string();
        print_json(document);
        return ExitCode::done;
    }
    print_to(stdout, "Shortest plan for U(h) = %.2f %% over %.4g to %.4g mm/h: %.0f min\n", plan->U_percent,
             question.from_mm_h, question.to_mm_h, plan->minutes);
    print_to(stdout, "  %8s%s %6s %8s\n", "mm/h", inches_shown() ? "    in/h" : "", "tips", "min");
    for (const trial::PlannedStep& step : plan->steps)
        print_to(stdout, "  %8.1f%s %6d %8.1f%s\n", step.intensity_mm_h, inches_column(step.intensity_mm_h),
                 step.tips, step.minutes, step.demanded ? "  demanded" : "");
    print_to(stdout,
             "%s: %.0f min, U(h) = %.2f %%, form not taken for granted %.2f %%; this plan takes %.0f %% of "
             "that time\n",
             options.against, asked->other.minutes, asked->other.U_percent, asked->other.U_free_percent,
             100 * plan->minutes / asked->other.minutes);
    print_to(stdout, "if the form is not taken for granted, this plan reaches U(h) = %.2f %%\n",
             plan->U_free_percent);
    print_to(stdout, "%s\n", promise_sentence(*promise, question.wanted_U_percent));
    print_to(stdout, "\nTime against precision\n  %8s %8s %6s\n", "U(h) %", "min", "steps");
    for (const trial::DesignedPlan& one : curve)
        print_to(stdout, "  %8.3f %8.0f %6d\n", one.U_percent, one.minutes,
                 static_cast<int>(one.steps.size()));
    print_to(stdout, "\n%s\n", proof_sentence(question));
    if (!options.out.empty()) print_to(stdout, "written      %s\n", options.out);
    return ExitCode::done;
}

}  // namespace

void add_plan(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "plan",
                    "Design the shortest plan that reaches a wanted uncertainty of the correction", run_plan);
    command.add_option("--gauge", options->gauge, "Gauge or gauge kind that the plan is for")
        .required()
        .type_name("FILE");
    command.add_option("--bench", options->bench, "Description of the bench that the plan is for")
        .required()
        .type_name("FILE");
    command
        .add_option("--record", options->record,
                    "Record of such a gauge, for the volume, movement time and scatter to expect")
        .type_name("FILE");
    command.add_option("--from", options->from_mm_h, "Lowest intensity, mm/h").show_default();
    command.add_option("--to", options->to_mm_h, "Highest intensity, mm/h").show_default();
    command.add_option("--U", options->wanted_U_percent,
                       "Wanted U of the correction, % (default: that of --record, else of --against)");
    command.add_option("--scatter", options->scatter_percent, "Expected scatter of single tips, %");
    command.add_option("--movement", options->movement_s, "Expected movement time of the bucket, s");
    command.add_option("--form", options->form, "Form of the rate dependence")
        .one_of({"line", "curve"})
        .show_default();
    command.add_option("--keep", options->keep, "Plan whose steps a standard requires: all of them are kept")
        .type_name("FILE");
    command.add_option("--against", options->against, "Plan to compare it with")
        .type_name("FILE")
        .show_default();
    command.add_option("--limits", options->limits, "Limits that the written plan judges against")
        .type_name("FILE");
    command.add_option("--out", options->out, "Write the plan here, for calibrate --plan").type_name("FILE");
    add_force(command, options->out);
}

}  // namespace tipwright::program
