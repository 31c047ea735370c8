#include "calib/decision/conformity.hpp"

#include <algorithm>

#include "calib/decision/decision.hpp"
#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

// Distance of the error to the nearer limit; negative outside.
double margin(double error, double low, double high) {
    return std::min(high - error, error - low);
}

// band: width of the guard band.
Verdict verdict_by(DecisionRule rule, double inside, double band, double probability, double required) {
    switch (rule) {
        case DecisionRule::simple_acceptance:
            return inside >= 0 ? Verdict::pass : Verdict::fail;
        case DecisionRule::guard_band:
            if (inside >= band) return Verdict::pass;
            return inside <= -band ? Verdict::fail : Verdict::undecided;
        case DecisionRule::conformance_probability:
            if (probability >= required) return Verdict::pass;
            return 1 - probability >= required ? Verdict::fail : Verdict::undecided;
    }
    return Verdict::undecided;
}

// JCGM 106:2012 clause 9.5, the true errors of such gauges as the population says. Acceptance by conformance
// probability has limits moved inwards by t(required) u, exact while the other limit is far.
void add_global_risk(StepConformity& row, const Uncertain& error, double band, const Plan& plan) {
    const auto& population = plan.limits.population;
    if (!population || !(population->sd_percent > 0) || !(error.u > 0)) return;
    double w = 0;
    if (plan.rule == DecisionRule::guard_band) w = band;
    if (plan.rule == DecisionRule::conformance_probability)
        w = guard_band_for_specific_risk(error.u, 1 - plan.required_probability, error.dof);
    const auto risk = global_risk(normal_prior(population->mean_percent, population->sd_percent), error.u,
                                  {row.low_percent, row.high_percent},
                                  {row.low_percent + w, row.high_percent - w}, error.dof);
    if (!risk) return;
    row.consumer_risk = std::clamp(risk->consumer, 0.0, 1.0);
    row.producer_risk = std::clamp(risk->producer, 0.0, 1.0);
}

}  // namespace

std::string_view name_of(Verdict verdict) {
    switch (verdict) {
        case Verdict::pass:
            return "pass";
        case Verdict::fail:
            return "fail";
        case Verdict::undecided:
            return "undecided";
        case Verdict::not_stated:
            return "not_stated";
        case Verdict::no_limit:
            break;
    }
    return "no_limit";
}

StepConformity judge_error(const Uncertain& error_percent, double expanded_uncertainty, double low_percent,
                           double high_percent, DecisionRule rule, double required_probability,
                           double guard_band_times_U) {
    StepConformity row;
    row.low_percent = low_percent;
    row.high_percent = high_percent;
    // JCGM 106:2012 clause 7.3: area of the distribution of the error between the limits, Student's t with
    // the degrees of freedom that U has (JCGM 101:2008 clause 6.4.9).
    row.conformance_probability = conformance_probability(error_percent, {low_percent, high_percent});
    row.verdict = verdict_by(rule, margin(error_percent.value, low_percent, high_percent),
                             guard_band_times_U * expanded_uncertainty, row.conformance_probability,
                             required_probability);
    if (row.verdict == Verdict::pass) row.wrong_probability = 1 - row.conformance_probability;
    if (row.verdict == Verdict::fail) row.wrong_probability = row.conformance_probability;
    return row;
}

double risk_bound(const Conformity& conformity, double coverage, double fewest_dof) {
    // Below U the normal distribution is the worse one, beyond it the one with the longest tails.
    double dof = infinite_dof;
    if (conformity.guard_band_times_U > 1) dof = fewest_dof;
    switch (conformity.rule) {
        case DecisionRule::simple_acceptance:
            return 0.5;
        case DecisionRule::guard_band:
            return specific_risk_bound(conformity.guard_band_times_U, student_two_sided(coverage, dof), dof);
        case DecisionRule::conformance_probability:
            break;
    }
    return 1 - conformity.required_probability;
}

Conformity judge(const std::vector<StepResult>& steps, const Plan& plan, const std::vector<bool>& sound) {
    Conformity conformity;
    conformity.limits = plan.limits;
    conformity.rule = plan.rule;
    conformity.guard_band_times_U = plan.guard_band_times_U;
    conformity.required_probability = plan.required_probability;
    bool any_limit = false;
    bool any_fail = false;
    bool any_open = false;
    bool any_doubted = false;
    for (std::size_t k = 0; k < steps.size(); ++k) {
        const StepResult& step = steps[k];
        const double intensity = step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value
                                                               : step.observation.set_intensity_mm_h;
        // The limit is that of the intensity asked for: a set point of 200 that came out as 200.6 is
        // still judged by the row that ends at 200.
        const double asked =
            step.observation.set_intensity_mm_h > 0 ? step.observation.set_intensity_mm_h : intensity;
        const auto limit =
            std::find_if(plan.limits.rows.begin(), plan.limits.rows.end(),
                         [&](const LimitRow& r) { return asked >= r.from_mm_h && asked <= r.to_mm_h; });
        StepConformity row;
        if (limit != plan.limits.rows.end() && !sound.empty() && !sound[k]) {
            any_limit = true;
            any_doubted = true;
            row.verdict = Verdict::not_stated;
            row.low_percent = limit->low_percent;
            row.high_percent = limit->high_percent;
        } else if (limit != plan.limits.rows.end()) {
            any_limit = true;
            row = judge_error(step.error_percent, step.error_expanded.U, limit->low_percent,
                              limit->high_percent, plan.rule, plan.required_probability,
                              plan.guard_band_times_U);
            add_global_risk(row, step.error_percent, plan.guard_band_times_U * step.error_expanded.U, plan);
            any_fail = any_fail || row.verdict == Verdict::fail;
            any_open = any_open || row.verdict == Verdict::undecided;
        }
        row.step = step.observation.step;
        row.intensity_mm_h = intensity;
        conformity.steps.push_back(row);
    }
    if (any_limit) {
        conformity.overall = any_fail      ? Verdict::fail
                             : any_doubted ? Verdict::not_stated
                             : any_open    ? Verdict::undecided
                                           : Verdict::pass;
    }
    return conformity;
}

}  // namespace tipwright::calib
