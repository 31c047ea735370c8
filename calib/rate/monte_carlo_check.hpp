// What a record keeps of the Monte Carlo check of a step (calib/rate/step_monte_carlo.hpp), apart from what
// computes it. Units: e in per cent, v in mL.
#pragma once

#include "calib/statistics/coverage_interval.hpp"
#include "calib/statistics/gum_validation.hpp"

namespace tipwright::calib {

struct MonteCarloFigures {
    double mean = 0;
    double u = 0;
    Interval symmetric;
    Interval shortest;
    GumValidation validation;
};
struct MonteCarloCheck {
    int step = 0;
    int trials = 0;
    int seed = 0;
    bool stable = false;         // the trials sufficed for the validation's tolerance
    int significant_digits = 2;  // of U, to which both ways must agree
    MonteCarloFigures error_percent;
    MonteCarloFigures volume_per_tip_mL;
};

}  // namespace tipwright::calib
