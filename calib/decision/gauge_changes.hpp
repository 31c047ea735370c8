// Gauge changes: was the gauge still the same from one step of a run to the next? What was measured before a
// change describes a gauge that is no more, and nothing is stated of it. Told by
//   the compartments' difference (calib/tips/shift_checks.hpp), of a bucket;
//   a rate that was run again later: the same gauge gives the same error;
//   the shape over three rates (bends_back), of a gauge whose compartments do not tell.
// A spoon that changed between two steps so that it takes more at the later, higher rates looks like a spoon
// held down by the inflow: only a rate that is run again tells them apart.
#pragma once

#include <optional>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/rate/rate_model.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

// Steps at the same rate, in the order they were run, whose errors differ.
struct RateDiffers {
    std::size_t before = 0;  // positions
    std::size_t again = 0;
    double percent = 0;  // of the volume per tip
    double statistic = 0;
    double threshold = 0;
};
// The pair that ends latest: what stands before its second step is of another gauge. Student's t of the
// difference with what both steps have in common left out, shared out over the pairs (Bonferroni); beyond
// allowed_shift_percent and what the small difference of their flows could bring.
std::optional<RateDiffers> rate_differs(const std::vector<StepResult>& steps);

// Adds the finding changed_later to the steps before the last change.
void doubt_before_changes(std::vector<StepResult>& steps);

// What has changed after the steps before the last, in per cent of a tip; nothing: no sign of it.
struct BendBack {
    double percent = 0;
    double statistic = 0;
    double threshold = 0;
};
std::optional<BendBack> bends_back(const RateModel& model, const Gauge& gauge);

// Between which steps it changed is not known: the last alone is of the gauge as it stands.
void doubt_but_the_last(const BendBack& bend, std::vector<StepResult>& steps);

}  // namespace tipwright::calib
