// Compartments A and B of a bucket against each other: by how much their volumes per tip differ, over all
// steps of a run, and whether an adjustment has set them alike.
//   half of v_A - v_B: mean over the steps, weighted by 1/u^2; widened by the root of chi2/dof where the
//   steps disagree (chi2 beyond its 95 % quantile)
// Units: mL, % of a tip. Source: weighted mean, e.g. JCGM 100:2008 annex F.1.2; when unequal is said: common
// practice, no source.
#pragma once

#include <optional>
#include <vector>

#include "calib/base/uncertain.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

struct MeanHalfDifference {
    Uncertain half_mL;
    bool widened = false;
};
// Nothing where no step tells the sides apart.
std::optional<MeanHalfDifference> half_difference(const std::vector<StepResult>& steps);

struct SideBalance {
    std::optional<Uncertain> found_mL;  // v_A - v_B before
    Uncertain left_mL;                  // and after
    double left_U_mL = 0;
    double left_percent = 0;  // of a mean tip
    bool unequal = false;     // more than U and how well each side can be set explain together
};
// `setting_u_mL`: how well a compartment can be set, standard uncertainty. Nothing where the run as left does
// not tell the sides apart.
std::optional<SideBalance> side_balance(const std::vector<StepResult>& found,
                                        const std::vector<StepResult>& left, double setting_u_mL,
                                        double coverage);

}  // namespace tipwright::calib
