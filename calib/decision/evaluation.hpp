// Evaluation: everything computed from the observations of one gauge in one state (as found, as left).
#pragma once

#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/conformity.hpp"
#include "calib/rate/correction.hpp"
#include "calib/rate/monte_carlo_check.hpp"
#include "calib/rate/rate_model.hpp"
#include "calib/rate/step_result.hpp"
#include "calib/tips/finding.hpp"

namespace tipwright::calib {

// Why there is no correction.
enum class NoCorrection {
    derived,        // there is one
    static_check,   // no duration or rate was measured
    steps_doubted,  // too few steps are left to rest it on, calib/decision/statement.hpp
    one_rate,       // all steps are of one rate
};
inline constexpr std::array no_correction_names{std::string_view("derived"), std::string_view("static_check"),
                                                std::string_view("steps_doubted"),
                                                std::string_view("one_rate")};

struct Evaluation {
    std::vector<StepResult> steps;   // ascending step number
    std::optional<RateModel> model;  // none for a static check
    std::optional<Correction> correction;
    NoCorrection no_correction = NoCorrection::derived;
    std::vector<int> correction_steps;  // the steps that model and correction rest on
    Conformity conformity;
    std::vector<MonteCarloCheck> monte_carlo;  // of each step; none: not asked for
    std::vector<Finding> findings;             // of every step, and of the evaluation itself
};

// Observations of one step with different repeats are combined by the plan's rule, calib/rate/repeats.hpp.
Result<Evaluation> evaluate(const std::vector<StepObservation>& observations, const Gauge& gauge,
                            const BenchMetrology& bench, const Plan& plan, const CommonCauses& causes = {});

// Checks every step's budget by Monte Carlo (JCGM 101:2008 clause 8). Where it does not confirm the two
// digits U is printed with, its interval is stated in the place of e +- U and judged anew by the plan's rule;
// a finding says so. The same bytes on any machine and any number of threads: seed and trials are stated.
Outcome check_by_monte_carlo(Evaluation& evaluation, const Plan& plan);

// What an evaluation was made of: every run of every step.
std::vector<StepObservation> observations_of(const Evaluation& evaluation);

}  // namespace tipwright::calib
