#include <algorithm>

#include "calib/base/rounding.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/rate/step_monte_carlo.hpp"

namespace tipwright::calib {

namespace {

constexpr int record_seed = 1;
// Enough for two digits of any U, in a fifth of a second; a step that is not stable by then, as one whose
// tails are heavy, says so.
constexpr std::size_t most_trials = 2'000'000;

MonteCarloFigures figures_of(const MonteCarloOutput& output, const GumValidation& validation) {
    return {output.mean, output.u, output.intervals.symmetric, output.intervals.shortest, validation};
}

// Worth a remark only then: the last digit of U moves in many a sound run.
bool confirmed_to_one_digit_of_u(const StepResult& step, const Interval& interval) {
    return validate_gum(step.error_percent.value, step.error_expanded.U, step.error_percent.u, interval, 1)
        .valid;
}

Finding finding_of_interval(const StepResult& step, const Interval& interval) {
    const int decimals = decimals_earned(step.error_expanded.U);
    const bool narrower = interval.high - interval.low < 2 * step.error_expanded.U;
    Finding finding =
        finding_of(narrower ? FindingId::monte_carlo_narrower : FindingId::monte_carlo_wider,
                   {{"low_percent", interval.low, decimals}, {"high_percent", interval.high, decimals}});
    finding.step = step.observation.step;
    return finding;
}

// The interval that is stated is Monte Carlo's: U its farther end from e, but never below the laboratory's
// capability; k what that makes of u.
void state_interval(StepResult& step, const Interval& interval) {
    const double e = step.error_percent.value;
    Expanded& stated = step.error_expanded;
    stated.U = std::max({interval.high - e, e - interval.low, step.least_U_percent.value_or(0)});
    stated.k = step.error_percent.u > 0 ? stated.U / step.error_percent.u : stated.k;
}

// By what was sound before.
Conformity judged_again(const Evaluation& evaluation, const Plan& plan) {
    std::vector<bool> sound;
    for (const StepConformity& row : evaluation.conformity.steps)
        sound.push_back(row.verdict != Verdict::not_stated);
    return judge(evaluation.steps, plan, sound);
}

}  // namespace

Outcome check_by_monte_carlo(Evaluation& evaluation, const Plan& plan) {
    evaluation.monte_carlo.clear();
    StepMonteCarloOptions options;
    options.seed = record_seed;
    options.max_trials = most_trials;
    bool any_stated = false;
    for (StepResult& step : evaluation.steps) {
        const auto result = monte_carlo_of(step, options);
        if (!result) return result.fault();
        MonteCarloCheck check;
        check.step = step.observation.step;
        check.trials = static_cast<int>(result->trials);
        check.seed = record_seed;
        check.stable = result->stable;
        check.significant_digits = result->significant_digits;
        check.error_percent = figures_of(result->error_percent, result->error_validation);
        check.volume_per_tip_mL = figures_of(result->volume_per_tip_mL, result->volume_validation);
        const Interval& interval = check.error_percent.symmetric;
        if (!check.error_percent.validation.valid) {
            if (!confirmed_to_one_digit_of_u(step, interval))
                evaluation.findings.push_back(finding_of_interval(step, interval));
            state_interval(step, interval);
            any_stated = true;
        }
        evaluation.monte_carlo.push_back(check);
    }
    if (any_stated) evaluation.conformity = judged_again(evaluation, plan);
    return Done{};
}

}  // namespace tipwright::calib
