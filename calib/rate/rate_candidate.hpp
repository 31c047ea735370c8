// One form of the rate model fitted to the steps, and its test: RateModel chooses among these. Private to
// calib/rate.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rate/rate_model.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

// What a component contributes to a step, in units of its uncertainty: relative to v and to Q.
struct StepPart {
    int cause = 0;
    double at = 0;
    double v = 0;
    double Q = 0;
    const BudgetComponent* component = nullptr;
};

struct StepPoint {
    double flow_mL_s = 0;
    double volume_mL = 0;
    const StepResult* step = nullptr;
    std::vector<StepPart> parts;  // by cause; a cause of its own for what is new in the step
};

std::vector<StepPoint> ascending_points(const std::vector<StepResult>& steps);

// A fit with what its test says: the probability that a true form lies at least as far from the points.
struct TestedForm {
    RateCandidate candidate;
    double probability = 1;
};

// Fault: too_few_points, bad_covariance, not_finite.
Result<TestedForm> fit_candidate(RateForm form, const std::vector<StepPoint>& points);

// Of the polynomial that is fitted: one more point than that is needed.
int degree_of(RateForm form);
// "v = 6.213 mL + 0.452 s · Q", of the parameters as they stand.
std::string expression_of(const RateCandidate& candidate);

}  // namespace tipwright::calib
