// Propagation of distributions by Monte Carlo, JCGM 101:2008 clause 7, with adaptive number of trials
// (7.9) and the validation of the GUM uncertainty framework by it (8.1). Units: those of the model.
//
// Trials come in sequences of equal length. Sequence k draws from generators that depend on the seed, k
// and the input alone, and the rule that stops is applied in the order of the sequences: the result is the
// same to the last bit for any number of threads. Faults: bad_value (a distribution or option that cannot
// be), bad_covariance, not_finite (the model gave no number). Reaching max_trials is no fault: `stable` is
// then false.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/statistics/coverage_interval.hpp"
#include "calib/statistics/gum_validation.hpp"
#include "calib/statistics/input_distribution.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

// Evaluates the model for `count` trials: inputs[i][t] is input i in trial t, outputs likewise. Called from
// several threads at once; must depend on its arguments alone.
using BlockModel =
    std::function<void(std::size_t count, const double* const* inputs, double* const* outputs)>;

struct MonteCarloInputs {
    std::vector<InputDistribution> distributions;
    // Correlation of the inputs, empty: none. Only normal inputs may be correlated (6.4.8).
    SquareMatrix correlation;
};

enum class IntervalKind { symmetric, shortest };

struct MonteCarloOptions {
    std::uint64_t seed = 1;
    double coverage = 0.95;
    int threads = 1;                      // 0: as many as the machine has
    std::size_t sequence_trials = 10000;  // M of 7.9.4; raised to 100/(1 - p) where that is more
    std::size_t max_trials = 2'000'000;
    bool adaptive = true;  // false: max_trials trials, no test
    // Adaptive or not, no fewer. The rule of 7.9.4 stops at the first of many looks that pleases it; with few
    // sequences their scatter is itself so uncertain that it stops far too early now and then.
    std::size_t min_trials = 0;
    int significant_digits = 2;  // n_dig of 7.9.2, of the standard uncertainty
    double tolerance_share = 1;  // of the numerical tolerance; 0.2 when validating (8.2)
    // Numerical tolerance of each output, before the share of it; empty: that of its u, by 7.9.2.
    std::vector<double> tolerances = {};
    IntervalKind stop_on = IntervalKind::symmetric;
};

struct MonteCarloOutput {
    double mean = 0;
    double u = 0;
    CoverageIntervals intervals;
    double tolerance = 0;  // delta the run was to reach
    // Standard deviations of the averages of mean, u and the ends of the interval (7.9.4 step e to h).
    double s_mean = 0;
    double s_u = 0;
    double s_low = 0;
    double s_high = 0;
    bool stable = false;
};

struct MonteCarloResult {
    std::vector<MonteCarloOutput> outputs;
    std::size_t trials = 0;
    bool stable = false;  // every output is
};

Result<MonteCarloResult> run_monte_carlo(const MonteCarloInputs& inputs, std::size_t output_count,
                                         const BlockModel& model, const MonteCarloOptions& options);

// Numerical tolerance of u, 7.9.2: u = c 10^l with c of `digits` figures gives half of 10^l.
double numerical_tolerance(double u, int digits);

// Clause 8.1, to `digits` figures of u.
GumValidation validate_gum(double y, double expanded_uncertainty, double u, const Interval& monte_carlo,
                           int digits);

}  // namespace tipwright::calib
