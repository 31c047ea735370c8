#include "calib/evaluation.hpp"

#include <algorithm>
#include <cmath>

#include "calib/rounding.hpp"
#include "calib/tip_checks.hpp"

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
    if (seen.ended == CollectEnd::time_limit) {
        findings.push_back(in_step(step) +
                           "ended at its time limit with U(e) = " + fixed(step.error_expanded.U, 2) +
                           " %, target " + fixed(target_U_percent, 2) + " %");
    }
}

}  // namespace

Result<Evaluation> evaluate(const std::vector<StepObservation>& observations, const Gauge& gauge,
                            const BenchMetrology& bench, const Plan& plan) {
    if (observations.empty()) {
        return Fault{FaultCode::too_few_points, "no step was measured", "evaluation",
                     "a result needs at least one step"};
    }
    Evaluation evaluation;
    for (const auto& observation : observations) {
        auto step = evaluate_step(observation, gauge, bench, plan.coverage);
        if (!step) return step.fault();
        evaluation.steps.push_back(std::move(*step));
    }
    auto& steps = evaluation.steps;
    std::stable_sort(steps.begin(), steps.end(), [](const StepResult& a, const StepResult& b) {
        return a.observation.step < b.observation.step;
    });
    const auto twin = std::adjacent_find(
        steps.begin(), steps.end(),
        [](const StepResult& a, const StepResult& b) { return a.observation.step == b.observation.step; });
    if (twin != steps.end()) {
        return Fault{FaultCode::duplicate,
                     "step " + std::to_string(twin->observation.step) + " appears twice", "evaluation",
                     "number the steps 1, 2, 3, ..."};
    }

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
