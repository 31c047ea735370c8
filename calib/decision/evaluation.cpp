#include "calib/decision/evaluation.hpp"

#include <algorithm>
#include <cmath>

#include "calib/decision/gauge_changes.hpp"
#include "calib/decision/statement.hpp"
#include "calib/rate/capability_floor.hpp"
#include "calib/rate/repeats.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/tips/pooled_scatter.hpp"
#include "calib/tips/tip_checks.hpp"

namespace tipwright::calib {

namespace {

void add(Finding finding, int step, std::vector<Finding>& findings) {
    finding.step = step;
    findings.push_back(std::move(finding));
}

void add_findings(const StepResult& step, double target_U_percent, std::vector<Finding>& findings) {
    const StepObservation& seen = step.observation;
    bool contacts_named = false;
    bool false_tips = false;
    for (const Finding& finding : seen.findings) {
        add(finding, seen.step, findings);
        contacts_named = contacts_named || finding.kind() == FindingKind::missed_closure ||
                         finding.kind() == FindingKind::extra_closure ||
                         finding.kind() == FindingKind::dead_compartment;
        false_tips = false_tips || finding.kind() == FindingKind::phantom_tips;
    }
    // Counts alone, where no single closures are known.
    for (std::size_t contact = 0; contact < seen.contact_counts.size() && !contacts_named; ++contact) {
        const int missed = seen.tips - seen.contact_counts[contact];
        if (missed == 0) continue;
        add(finding_of(FindingId::contact_counts, {count_of("contact", contact + 1),
                                                   {"missed", static_cast<double>(missed), 0},
                                                   {"tips", static_cast<double>(seen.tips), 0}}),
            seen.step, findings);
    }
    // A false tip puts the order of the compartments out: their difference then says nothing.
    if (seen.compartments && !false_tips) {
        if (const auto unequal = check_compartments(*seen.compartments)) add(*unequal, seen.step, findings);
    }
    if (const auto scatter = repeats_disagree(step)) add(*scatter, seen.step, findings);
    if (seen.ended == CollectEnd::time_limit) {
        add(finding_of(FindingId::target_missed,
                       {{"U_percent", step.error_expanded.U, 2}, {"target_percent", target_U_percent, 2}}),
            seen.step, findings);
    }
}

// Whichever run of the step lies farthest outside.
void add_outside(FindingId id, const std::optional<PermittedRange>& permitted, const StepResult& step,
                 double Conditions::*member, std::vector<Finding>& findings) {
    if (!permitted) return;
    std::vector<double> seen{step.observation.conditions.*member};
    for (const StepRepeat& run : step.repeats) seen.push_back(run.observation.conditions.*member);
    const auto beyond = [&](double value) {
        return std::max(permitted->low - value, value - permitted->high);
    };
    const double worst = *std::max_element(seen.begin(), seen.end(),
                                           [&](double a, double b) { return beyond(a) < beyond(b); });
    if (!(beyond(worst) > 0)) return;
    add(finding_of(id, {{"value", worst, 1}, {"low", permitted->low, 1}, {"high", permitted->high, 1}}),
        step.observation.step, findings);
}

// What the laboratory's own facts say against a step.
void add_laboratory_findings(const StepResult& step, const BenchMetrology& bench,
                             std::vector<Finding>& findings) {
    const EnvironmentLimits& limits = bench.environment;
    add_outside(FindingId::water_temperature_outside, limits.water_temperature_C, step,
                &Conditions::water_temperature_C, findings);
    add_outside(FindingId::air_temperature_outside, limits.air_temperature_C, step,
                &Conditions::air_temperature_C, findings);
    add_outside(FindingId::pressure_outside, limits.air_pressure_hPa, step, &Conditions::air_pressure_hPa,
                findings);
    add_outside(FindingId::humidity_outside, limits.relative_humidity_percent, step,
                &Conditions::relative_humidity_percent, findings);
    if (step.reference_intensity_mm_h &&
        beyond_capability(bench.capability, step.reference_intensity_mm_h->value))
        add(finding_of(FindingId::beyond_capability,
                       {{"intensity_mm_h", step.reference_intensity_mm_h->value, 1},
                        {"low_mm_h", bench.capability.front().intensity_mm_h, 1},
                        {"high_mm_h", bench.capability.back().intensity_mm_h, 1}}),
            step.observation.step, findings);
}

std::string run_name(const StepObservation& seen) {
    return "step " + std::to_string(seen.step) +
           (seen.repeat > 1 ? " run " + std::to_string(seen.repeat) : "");
}

// The runs of each step, by number, made into its result.
Result<std::vector<StepResult>> results_of(const std::vector<StepObservation>& observations,
                                           const Gauge& gauge, const BenchMetrology& bench, const Plan& plan,
                                           const CommonCauses& causes) {
    std::vector<StepResult> runs;
    for (std::size_t k = 0; k < observations.size(); ++k) {
        auto run = evaluate_step(observations[k], gauge, bench, plan.coverage,
                                 pooled_scatter(observations, k, gauge), causes);
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
            if (auto raised = raise_to_capability(*step, bench.capability, plan.coverage, causes.run);
                !raised)
                return raised.fault();
            for (auto each = run; each != next; ++each) {
                for (Finding finding : each->observation.findings) {
                    finding.run = each->observation.repeat;
                    step->observation.findings.push_back(std::move(finding));
                }
            }
            steps.push_back(std::move(*step));
        }
        run = next;
    }
    return steps;
}

// A gauge of which most steps are doubted is not known by the others either.
bool may_rest_on(std::size_t sound, std::size_t all) {
    return sound == all || (sound >= 2 && 2 * sound >= all);
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
                            const BenchMetrology& bench, const Plan& plan, const CommonCauses& causes) {
    if (observations.empty()) {
        return Fault{FaultCode::too_few_points, "no step was measured", "evaluation",
                     "a result needs at least one step"};
    }
    auto results = results_of(observations, gauge, bench, plan, causes);
    if (!results) return results.fault();
    Evaluation evaluation;
    evaluation.steps = std::move(*results);
    doubt_before_changes(evaluation.steps);
    const auto& steps = evaluation.steps;

    const bool all_timed = std::all_of(steps.begin(), steps.end(),
                                       [](const StepResult& step) { return step.flow_mL_min.has_value(); });
    std::vector<StepResult> sound;
    std::vector<bool> is_sound;
    for (const StepResult& step : steps) {
        is_sound.push_back(!doubted(step, gauge));
        if (is_sound.back()) sound.push_back(step);
    }
    if (!all_timed) {
        evaluation.no_correction = NoCorrection::static_check;
    } else if (!may_rest_on(sound.size(), steps.size())) {
        evaluation.no_correction = NoCorrection::steps_doubted;
    } else {
        auto model = fit_rate_model(sound);
        if (!model) return model.fault();
        if (const auto bend = bends_back(*model, gauge)) {
            doubt_but_the_last(*bend, evaluation.steps);
            for (std::size_t k = 0; k < steps.size(); ++k) is_sound[k] = !doubted(steps[k], gauge);
            evaluation.no_correction = NoCorrection::steps_doubted;
        } else if (model->rates() < 2) {
            evaluation.no_correction = NoCorrection::one_rate;
        } else {
            auto correction = derive_correction(*model, sound, gauge, plan.coverage, bench.capability);
            if (!correction) return correction.fault();
            evaluation.model = std::move(*model);
            evaluation.correction = std::move(*correction);
            for (const StepResult& step : sound) evaluation.correction_steps.push_back(step.observation.step);
        }
    }
    evaluation.conformity = judge(steps, plan, is_sound);
    for (const auto& step : steps) {
        add_findings(step, plan.target_U_percent, evaluation.findings);
        add_laboratory_findings(step, bench, evaluation.findings);
    }
    return evaluation;
}

}  // namespace tipwright::calib
