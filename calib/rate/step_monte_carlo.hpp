// Monte Carlo check of a step's budget, JCGM 101:2008: the distributions of its components go through
// the measurement model itself instead of its first-order form, and clause 8.1 says whether e +- U and
// v +- U of the GUM framework stand.
//   V = W (1 + sum of mass influences / W) x the other influences on V x rho_w(t)/rho_w(t + dt)
//   v = V/N x influences on v beyond V       e = A h_n / v - 1
// A component with few degrees of freedom is drawn from Student's t (JCGM 101 clause 6.4.9).
// Units: e in per cent, v in mL. Faults: those of calib/statistics/monte_carlo.hpp.
#pragma once

#include <cstddef>
#include <cstdint>

#include "calib/rate/step_result.hpp"
#include "calib/statistics/monte_carlo.hpp"

namespace tipwright::calib {

struct StepMonteCarloOptions {
    std::uint64_t seed = 1;  // the step number is mixed in
    int threads = 1;
    int significant_digits = 2;  // of U, to which the two ways must agree
    // Monte Carlo to half of that. JCGM 101 clause 8.2 would have a fifth, which takes up to 7 million trials
    // a step; with half of it 1.2 million settle any U, twice the standard deviation of an end of the
    // interval within a quarter of the last digit.
    double tolerance_share = 0.5;
    std::size_t max_trials = 2'000'000;
    bool adaptive = true;
};

struct StepMonteCarlo {
    MonteCarloOutput error_percent;
    MonteCarloOutput volume_per_tip_mL;
    GumValidation error_validation;
    GumValidation volume_validation;
    double coverage = default_coverage;
    int significant_digits = 2;  // of the verdicts
    std::uint64_t seed = 0;
    std::size_t trials = 0;
    bool stable = false;
};

Result<StepMonteCarlo> monte_carlo_of(const StepResult& step, const StepMonteCarloOptions& options = {});

}  // namespace tipwright::calib
