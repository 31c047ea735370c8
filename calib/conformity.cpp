#include "calib/conformity.hpp"

#include <algorithm>

#include "calib/distributions.hpp"

namespace tipwright::calib {

namespace {

// JCGM 106:2012 clause 7.3: area of the normal distribution of the error between the limits.
double conformance_probability(double error, double u, double low, double high) {
    if (!(u > 0)) return error >= low && error <= high ? 1 : 0;
    return normal_cumulative((high - error) / u) - normal_cumulative((low - error) / u);
}

// Distance of the error to the nearer limit; negative outside.
double margin(double error, double low, double high) {
    return std::min(high - error, error - low);
}

Verdict verdict_by(DecisionRule rule, double inside, double U, double probability, double required) {
    switch (rule) {
        case DecisionRule::simple_acceptance:
            return inside >= 0 ? Verdict::pass : Verdict::fail;
        case DecisionRule::guard_band:
            if (inside >= U) return Verdict::pass;
            return inside <= -U ? Verdict::fail : Verdict::undecided;
        case DecisionRule::conformance_probability:
            if (probability >= required) return Verdict::pass;
            return 1 - probability >= required ? Verdict::fail : Verdict::undecided;
    }
    return Verdict::undecided;
}

}  // namespace

Conformity judge(const std::vector<StepResult>& steps, const Plan& plan) {
    Conformity conformity;
    conformity.limits = plan.limits;
    conformity.rule = plan.rule;
    conformity.required_probability = plan.required_probability;
    bool any_limit = false;
    bool any_fail = false;
    bool any_open = false;
    for (const auto& step : steps) {
        StepConformity row;
        row.step = step.observation.step;
        row.intensity_mm_h = step.reference_intensity_mm_h ? step.reference_intensity_mm_h->value
                                                           : step.observation.set_intensity_mm_h;
        // The limit is that of the intensity asked for: a set point of 200 that came out as 200.6 is
        // still judged by the row that ends at 200.
        const double asked = step.observation.set_intensity_mm_h > 0 ? step.observation.set_intensity_mm_h
                                                                     : row.intensity_mm_h;
        const auto limit =
            std::find_if(plan.limits.rows.begin(), plan.limits.rows.end(),
                         [&](const LimitRow& r) { return asked >= r.from_mm_h && asked <= r.to_mm_h; });
        if (limit != plan.limits.rows.end()) {
            any_limit = true;
            row.low_percent = limit->low_percent;
            row.high_percent = limit->high_percent;
            const Uncertain& error = step.error_percent;
            row.conformance_probability =
                conformance_probability(error.value, error.u, row.low_percent, row.high_percent);
            row.verdict =
                verdict_by(plan.rule, margin(error.value, row.low_percent, row.high_percent),
                           step.error_expanded.U, row.conformance_probability, plan.required_probability);
            if (row.verdict == Verdict::pass) row.wrong_probability = 1 - row.conformance_probability;
            if (row.verdict == Verdict::fail) row.wrong_probability = row.conformance_probability;
            any_fail = any_fail || row.verdict == Verdict::fail;
            any_open = any_open || row.verdict == Verdict::undecided;
        }
        conformity.steps.push_back(row);
    }
    if (any_limit) {
        conformity.overall = any_fail ? Verdict::fail : any_open ? Verdict::undecided : Verdict::pass;
    }
    return conformity;
}

}  // namespace tipwright::calib
