// Conformity: does a step's error of indication meet its limits, by which rule, and how likely is the
// statement wrong? Rules: simple acceptance; guard band w = U or a multiple of it (ILAC-G8:09/2019);
// conformance probability (JCGM 106:2012 clause 7). Global risks (clause 9.5) where the limits come with what
// is known of such gauges. The error is taken as Student's t with the step's u and degrees of freedom.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "calib/base/plan.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

enum class Verdict {
    pass,
    fail,
    undecided,
    no_limit,
    not_stated,  // there is a limit, but the step is doubted: calib/decision/statement.hpp
};

// "pass", "fail", "undecided", "no_limit", "not_stated": for files.
std::string_view name_of(Verdict verdict);

struct StepConformity {
    int step = 0;
    double intensity_mm_h = 0;
    double low_percent = 0;
    double high_percent = 0;
    Verdict verdict = Verdict::no_limit;
    double conformance_probability = 0;  // that the true error lies within the limits
    double wrong_probability = 0;        // that the verdict is wrong
    // Of all such gauges measured like this one: share passed but outside, share not passed but inside.
    std::optional<double> consumer_risk;
    std::optional<double> producer_risk;
};

struct Conformity {
    Limits limits;
    DecisionRule rule = DecisionRule::simple_acceptance;
    double guard_band_times_U = 1;
    double required_probability = 0.95;
    std::vector<StepConformity> steps;
    // pass only if every step passes; fail if any fails; not_stated if a step that would decide it is doubted
    Verdict overall = Verdict::no_limit;
};

// One error of indication against its limits; step and intensity are left to the caller.
StepConformity judge_error(const Uncertain& error_percent, double expanded_uncertainty, double low_percent,
                           double high_percent, DecisionRule rule, double required_probability,
                           double guard_band_times_U = 1);

// Largest probability that a pass or fail by this rule is wrong, for a result where it is just given.
// fewest_dof: the smallest among the steps.
double risk_bound(const Conformity& conformity, double coverage, double fewest_dof = infinite_dof);

// sound: of each step, whether anything may be stated of it; empty: of all.
Conformity judge(const std::vector<StepResult>& steps, const Plan& plan, const std::vector<bool>& sound = {});

}  // namespace tipwright::calib
