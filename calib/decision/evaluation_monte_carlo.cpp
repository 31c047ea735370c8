#include "calib/base/rounding.hpp"
#include "calib/decision/evaluation.hpp"

namespace tipwright::calib {

namespace {

constexpr int record_seed = 1;
// A check must not take longer than the evaluation. Enough for one significant digit of u, whatever its first
// digit (JCGM 101 clause 7.9.2); a step that is not stable by then says so.
constexpr std::size_t most_trials = 400'000;

MonteCarloFigures figures_of(const MonteCarloOutput& output, const GumValidation& validation) {
    return {output.mean, output.u, output.intervals.symmetric, output.intervals.shortest, validation};
}

}  // namespace

Outcome check_by_monte_carlo(Evaluation& evaluation) {
    evaluation.monte_carlo.clear();
    StepMonteCarloOptions options;
    options.seed = record_seed;
    options.max_trials = most_trials;
    for (const StepResult& step : evaluation.steps) {
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
            const int decimals = decimals_earned(step.error_expanded.U);
            const bool narrower = interval.high - interval.low < 2 * step.error_expanded.U;
            Finding finding = finding_of(
                narrower ? FindingId::monte_carlo_narrower : FindingId::monte_carlo_wider,
                {{"low_percent", interval.low, decimals}, {"high_percent", interval.high, decimals}});
            finding.step = check.step;
            evaluation.findings.push_back(std::move(finding));
        }
        evaluation.monte_carlo.push_back(check);
    }
    return Done{};
}

}  // namespace tipwright::calib
