// Capability: the smallest uncertainty of the error of indication that the laboratory may claim at an
// intensity (CMC), from its budgets and from what its check gauge has shown.
//   u^2 = u_shared^2 + max(u_own^2, s^2)
//   u_shared: parts of the budget that act on all steps of a run alike (mass standards, water, area); u_own:
//   the others; s: intermediate precision of the check gauge at that intensity (ISO 5725-3), where it was
//   measured often enough. What the budgets foresee is not counted twice; what they do not foresee is added.
//   U = k u, k = t_95(nu_eff) (JCGM 100 G.4.1), rounded up to two figures (ILAC-P14:09/2020).
// The check gauge's own part (its scatter, its rim) is in it, as that of a best existing device. Units: per
// cent of the intensity, mm/h. Domain: u > 0. Faults: too_few_points, not_finite.
#pragma once

#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

struct CapabilityInput {
    double intensity_mm_h = 0;
    std::vector<const StepResult*> steps;  // of the check gauge at this intensity
    double precision_sd = 0;               // s; 0: not known
    double precision_dof = 1;
};

struct Capability {
    double intensity_mm_h = 0;
    int runs = 0;
    double u_shared_percent = 0;
    double u_own_percent = 0;
    double precision_percent = 0;  // 0: not known
    double u_percent = 0;
    double dof = 0;
    double k = 0;
    double U_percent = 0;           // rounded up
    bool precision_counts = false;  // s is larger than what the budgets foresee
};

Result<Capability> capability_at(const CapabilityInput& input, double coverage = default_coverage);

// Up to two significant figures, never down.
double rounded_up(double U);

}  // namespace tipwright::calib
