// Mixed model of repeated measurements on several specimens, by restricted maximum likelihood:
//   y = X b + Z g + w + e     g ~ N(0, G) per specimen, w ~ N(0, s_run^2) per run, e ~ N(0, s^2)
// Criterion and its profiling over b and s: Bates, Maechler, Bolker, Walker 2015, J. Stat. Softw. 67(1),
// eq. 34 to 42. Minimised by BOBYQA (NLopt). Covariance of b and degrees of freedom of what is linear in b:
// Kenward & Roger 1997, Biometrics 53, 983 (one contrast: Satterthwaite's degrees of freedom, Giesbrecht &
// Burns 1985). Intervals of standard deviations: profile of the restricted likelihood against chi-squared
// with one degree of freedom; for few specimens wide, and as right as tests/figures/trial_figures.cpp shows.
// Units: the caller's. Errors: REML of Davies & Goldsmith's dyestuff within 1e-6 (tests/calib/trial).
// Faults: too_few_points (fewer than two specimens, no degrees of freedom left), not_finite, bad_value (a
// column that depends on the others, lengths that differ), no_convergence.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/statistics/linear_fit.hpp"

namespace tipwright::calib::trial {

enum class Likelihood { restricted, full };

struct MixedData {
    Design fixed;   // X
    Design random;  // Z: one column (level), or two (level, tilt); the same for every specimen
    std::vector<double> y;
    std::vector<int> specimen;  // of each row, 0 to m - 1
    std::vector<int> run;       // of each row, any number that no other run has; empty: no effect of runs
};

// Variances in this order: G11, and with two columns G21, G22; then that of runs if there is one; then s^2.
struct MixedModel {
    Likelihood likelihood = Likelihood::restricted;
    std::size_t rows = 0;
    int specimens = 0;
    int runs = 0;  // 0: no effect of runs
    std::size_t random_columns = 1;
    std::vector<double> parameters;  // b
    SquareMatrix covariance;         // of b, adjusted
    SquareMatrix plain_covariance;   // (X' V^-1 X)^-1
    std::vector<double> variances;
    SquareMatrix variances_covariance;                  // from the expected information
    std::vector<SquareMatrix> sensitivities;            // X' V^-1 K_a V^-1 X of each variance
    std::vector<std::vector<double>> specimen_effects;  // predicted g, one row a specimen
    std::vector<double> factors;  // lambda11, lambda21, lambda22, lambda_run: relative to s
    double criterion = 0;         // -2 log likelihood at its minimum

    double level_variance() const { return variances.front(); }
    double tilt_variance() const { return random_columns == 2 ? variances[2] : 0; }
    double level_tilt_covariance() const { return random_columns == 2 ? variances[1] : 0; }
    double run_variance() const { return runs == 0 ? 0 : variances[variances.size() - 2]; }
    double residual_variance() const { return variances.back(); }
};

Result<MixedModel> fit_mixed_model(const MixedData& data, Likelihood likelihood = Likelihood::restricted);

// c' b + z' g + r w + q e of a specimen that was not in the trial: variance and degrees of freedom. Never
// more of these than specimens less one once z is not zero: what the specimens spread is known from them
// alone.
struct Functional {
    std::vector<double> c;
    std::vector<double> z;  // empty: the mean gauge
    double run = 0;
    double residual = 0;
};
struct FunctionalResult {
    double value = 0;
    double variance = 0;
    double dof = 1;
};
FunctionalResult evaluate(const MixedModel& model, const Functional& functional);

// Of a standard deviation, at the coverage. low 0: the data do not exclude that there is none.
struct SpreadInterval {
    double sd = 0;
    double low = 0;
    double high = 0;
};
struct SpreadIntervals {
    SpreadInterval level;
    SpreadInterval tilt;  // 0 with one column
    SpreadInterval run;
    SpreadInterval residual;
};
Result<SpreadIntervals> profile_intervals(const MixedData& data, const MixedModel& model,
                                          double coverage = 0.95);

}  // namespace tipwright::calib::trial
