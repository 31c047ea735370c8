// Evaluation: everything computed from the observations of one gauge in one state (as found, as left).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/decision/conformity.hpp"
#include "calib/rate/correction.hpp"
#include "calib/base/fault.hpp"
#include "calib/rate/rate_model.hpp"
#include "calib/rate/step_monte_carlo.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

struct Evaluation {
    std::vector<StepResult> steps;   // ascending step number
    std::optional<RateModel> model;  // none for a static check
    std::optional<Correction> correction;
    std::string no_correction_reason;  // when there is none
    Conformity conformity;
    std::vector<MonteCarloCheck> monte_carlo;  // of each step; none: not asked for
    std::vector<std::string> findings;         // what a person should know, in plain words
};

// Observations of one step with different repeats are combined by the plan's rule, calib/rate/repeats.hpp.
Result<Evaluation> evaluate(const std::vector<StepObservation>& observations, const Gauge& gauge,
                            const BenchMetrology& bench, const Plan& plan);

// Checks every step's budget by Monte Carlo (JCGM 101:2008 clause 8) and adds a finding where it does not
// confirm e +- U. The same bytes on any machine and any number of threads: seed and trials are stated.
Outcome check_by_monte_carlo(Evaluation& evaluation);

// What an evaluation was made of: every run of every step.
std::vector<StepObservation> observations_of(const Evaluation& evaluation);

}  // namespace tipwright::calib
