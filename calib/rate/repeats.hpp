// Repeats: the runs of one step combined into its result.
//   mean                   e = mean of all n runs
//   discard extremes       e = mean without the runs of largest and smallest error (n >= 3)
// Reference intensity and flow are means over the same runs; volume per tip follows from v = A h_n/(1 + e),
// the interval from T = v/Q. Source of the rule: WMO-No. 8, Vol. I, annex on laboratory calibration (from
// memory: five runs, three kept).
//
// Uncertainty: what acts on every run alike (balance sensitivity and linearity, evaporation, densities, area)
// does not average out and keeps its size. What is new in each run enters with the variance of the mean over
// single runs, 1/n, or of the mean without extremes of n normal values,
//   c_n = (n - 4 + var(x_(1) + x_(n))) / (n - 2)^2,
// since a mean is independent of the residuals and thus cov(sum, x_(1) + x_(n)) = 2. c_5 = 0.2270, neither
// 1/5 nor 1/3: the kept three are fewer but also closer together by selection, so their own spread says too
// little. Scatter between all n runs beyond what the runs' own uncertainties explain is a component of its
// own, with n - 1 degrees of freedom. Sources: David and Nagaraja, Order Statistics (2003), section 8.8; JCGM
// 100:2008 clause 4.2 and H.5. Error of c_n: below 1e-6 against Sarhan and Greenberg 1956
// (tests/calib/rate/repeats_test.cpp).
#pragma once

#include <optional>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/plan.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

// Variance of the combined value over that of one run; n from 1, or from 3 when extremes are discarded.
double variance_share(RepeatRule rule, int n);

// Runs of one step, in the order of their repeats, at least one. With fewer than three none is discarded.
Result<StepResult> combine_repeats(const std::vector<StepResult>& runs, RepeatRule rule, double coverage);

// When the runs of a step scatter more than their own uncertainties explain (chi-squared test, false alarm
// 0.1 %).
std::optional<Finding> repeats_disagree(const StepResult& step);

// How many runs of a step its result rests on; 1 without repeats.
int repeats_kept(const StepResult& step);

}  // namespace tipwright::calib
