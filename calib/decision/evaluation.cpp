#include "calib/decision/evaluation.hpp"

#include <algorithm>
#include <cmath>

#include "calib/tips/pooled_scatter.hpp"
#include "calib/rate/repeats.hpp"
#include "calib/base/rounding.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib {

namespace {

std::string in_step(const StepResult& step) {
    return "step " + std::to_string(step.observation.step) + ": ";
}

void add_findings(const StepResult& step, double target_U_percent, std::vector<std::string>& findings) {
    const StepObservation& seen = step.observation;
    bool contacts_named = false;
    bool false_tips = false;
    for (const Finding& finding : seen.findings) {
        findings.push_back(in_step(step) + finding.line());
        contacts_named = contacts_named || finding.kind == FindingKind::missed_closure ||
                         finding.kind == FindingKind::extra_closure ||
                         finding.kind == FindingKind::dead_compartment;
        false_tips = false_tips || finding.kind == FindingKind::phantom_tips;
    }
    // Counts alone, where no single closures are known.
    for (std::size_t contact = 0; contact < seen.contact_counts.size() && !contacts_named; ++contact) {
        const int missed = seen.tips - seen.contact_counts[contact];
        if (missed != 0) {
            findings.push_back(in_step(step) + "contact " + std::to_string(contact + 1) + " missed " +
                               std::to_string(missed) + " of " + std::to_string(seen.tips) +
                               " tips; check the contact, its magnet and its cable");
        }
    }
    // A false tip puts the order of the compartments out: their difference then says nothing.
    if (seen.compartments && !false_tips) {
        if (const auto unequal = check_compartments(*seen.compartments))
            findings.push_back(in_step(step) + unequal->line());
    }
    if (const auto scatter = repeats_disagree(step)) findings.push_back(in_step(step) + *scatter);
    if (seen.ended == CollectEnd::time_limit) {
        findings.push_back(in_step(step) +
                           "ended at its time limit with U(e) = " + fixed(step.error_expanded.U, 2) +
                           " %, target " + fixed(target_U_percent, 2) + " %");
    }
}

std::string run_name(const StepObservation& seen) {
    return "step " + std::to_string(seen.step) +
           (seen.repeat > 1 ? " run " + std::to_string(seen.repeat) : "");
}

// The runs of each step, by number, made into its result.
Result<std::vector<StepResult>> results_of(const std::vector<StepObservation>& observations,
                                           const Gauge& gauge, const BenchMetrology& bench,
                                           const Plan& plan) {
    std::vector<StepResult> runs;
    for (std::size_t k = 0; k < observations.size(); ++k) {
        auto run = evaluate_step(observations[k], gauge, bench, plan.coverage,
                                 pooled_scatter(observations, k, gauge));
        if (!run) return run.fault();
        runs.push_back(std::move(*run));
    }
    const auto place = [](const StepResult& run) {
        return std::pair(run.observation.step, run.observation.repeat);
    };
    std::stable_sort(runs.begin(), runs.end(),
                     [&](const StepResult& a, const StepResult& b) { return place(a) < place(b); });
    const auto twin =
        std::adjacent_find(runs.begin(), runs.end(),
                           [&](const StepResult& a, const StepResult& b) { return place(a) == place(b); });
    if (twin != runs.end()) {
        return Fault{FaultCode::duplicate, run_name(twin->observation) + " appears twice", "evaluation",
                     "number the steps 1, 2, 3, ..."};
    }
    std::vector<StepResult> steps;
    for (auto run = runs.begin(); run != runs.end();) {
        const auto next = std::find_if(run, runs.end(), [&](const StepResult& other) {
            return other.observation.step != run->observation.step;
        });
        if (next - run == 1) {
            steps.push_back(std::move(*run));
        } else {
            auto step = combine_repeats({run, next}, plan.repeat_rule, plan.coverage);
            if (!step) return step.fault();
            for (auto each = run; each != next; ++each) {
                for (Finding finding : each->observation.findings) {
                    finding.what = "run " + std::to_string(each->observation.repeat) + ": " + finding.what;
                    step->observation.findings.push_back(std::move(finding));
                }
            }
            steps.push_back(std::move(*step));
        }
        run = next;
    }
    return steps;
}

}  // namespace

std::vector<StepObservation> observations_of(const Evaluation& evaluation) {
    std::vector<StepObservation> observations;
    for (const StepResult& step : evaluation.steps) {
        if (step.repeats.empty()) observations.push_back(step.observation);
        for (const StepRepeat& run : step.repeats) observations.push_back(run.observation);
    }
    return observations;
}

Result<Evaluation> evaluate(const std::vector<StepObservation>& observations, const Gauge& gauge,
                            const BenchMetrology& bench, const Plan& plan) {
    if (observations.empty()) {
        return Fault{FaultCode::too_few_points, "no step was measured", "evaluation",
                     "a result needs at least one step"};
    }
    auto results = results_of(observations, gauge, bench, plan);
    if (!results) return results.fault();
    Evaluation evaluation;
    evaluation.steps = std::move(*results);
    const auto& steps = evaluation.steps;

    const bool all_timed = std::all_of(steps.begin(), steps.end(),
                                       [](const StepResult& step) { return step.flow_mL_min.has_value(); });
    if (!all_timed) {
        evaluation.no_correction_reason =
            "static check: no duration or rate was measured, so no rate correction was derived";
    } else {
        auto model = fit_rate_model(steps);
        if (!model) return model.fault();
        auto correction = derive_correction(*model, steps, gauge, plan.coverage);
        if (!correction) return correction.fault();
        evaluation.model = std::move(*model);
        evaluation.correction = std::move(*correction);
    }
    evaluation.conformity = judge(steps, plan);
    for (const auto& step : steps) add_findings(step, plan.target_U_percent, evaluation.findings);
    return evaluation;
}

}  // namespace tipwright::calib
