// Conformity: does a step's error of indication meet its limits, by which rule, and how likely is the
// statement wrong? Rules: simple acceptance; guard band w = U (ILAC-G8:09/2019); conformance
// probability (JCGM 106:2012 clause 7). The error is taken as normal with the step's u.
#pragma once

#include <string_view>
#include <vector>

#include "calib/plan.hpp"
#include "calib/step_result.hpp"

namespace tipwright::calib {

enum class Verdict { pass, fail, undecided, no_limit };

// "pass", "fail", "undecided", "no_limit": for files.
std::string_view name_of(Verdict verdict);

struct StepConformity {
    int step = 0;
    double intensity_mm_h = 0;
    double low_percent = 0;
    double high_percent = 0;
    Verdict verdict = Verdict::no_limit;
    double conformance_probability = 0;  // that the true error lies within the limits
    double wrong_probability = 0;        // that the verdict is wrong
};

struct Conformity {
    Limits limits;
    DecisionRule rule = DecisionRule::simple_acceptance;
    double required_probability = 0.95;
    std::vector<StepConformity> steps;
    Verdict overall = Verdict::no_limit;  // pass only if every step passes; fail if any fails
};

// One error of indication against its limits; step and intensity are left to the caller.
StepConformity judge_error(const Uncertain& error_percent, double expanded_uncertainty, double low_percent,
                           double high_percent, DecisionRule rule, double required_probability);

Conformity judge(const std::vector<StepResult>& steps, const Plan& plan);

}  // namespace tipwright::calib
