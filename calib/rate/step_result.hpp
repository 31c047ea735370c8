// StepResult: one step corrected, with its uncertainty budget.
//   m = (dW + evaporated) (1 - rho_a0/rho_ref)/(1 - rho_a/rho_w)     V = m / rho_w(t_w)
//   v = V/N    Q = V/dt    I_ref = Q/A    I_ind = N h_n/dt    e = A h_n/v - 1
// Sources: ISO 4185:1980 (weighing), Tanaka et al. 2001, CIPM-2007, JCGM 100:2008 clauses 5, G.4.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/rate/common_causes.hpp"
#include "calib/tips/observation.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::calib {

enum class Distribution { normal, rectangular, triangular, student };

// One line of the budget. Sensitivities are logarithmic: relative change of V, of v beyond V, of the
// duration and of the catch area per unit of the influence.
struct BudgetComponent {
    std::string id;     // stable name, for example "balance_linearity"
    std::string label;  // for people
    std::string unit;
    double value = 0;
    double u = 0;
    Distribution distribution = Distribution::normal;
    double dof = infinite_dof;
    double dlnV = 0;
    double dlnv = 0;
    double dlnt = 0;
    double dlnA = 0;
    // Results whose components name the same cause have one unknown deviation in common, each in its own size
    // (calib/rate/common_causes.hpp). Empty: new in every run.
    std::string cause = {};
    // Where u rests on one estimate of a standard deviation used several times: its name. Its degrees of
    // freedom count once. Empty: its own.
    std::string estimate = {};
    double at = 0;  // reading of the instrument where the cause acted; 0: it acts alike at every one

    double relative_to_v() const { return dlnV + dlnv; }
    double relative_to_Q() const { return dlnV - dlnt; }
    double relative_to_e() const { return dlnA - dlnV - dlnv; }  // of 1 + e
    double relative_to_I_ref() const { return dlnV - dlnt - dlnA; }
};

// One of several runs of a step.
struct StepRepeat {
    StepObservation observation;
    bool kept = true;  // false: discarded by the plan's rule
    Uncertain volume_per_tip_mL;
    Uncertain error_percent;
    std::optional<Uncertain> reference_intensity_mm_h;
    Expanded error_expanded;
};

struct StepResult {
    StepObservation observation;
    double air_density_kg_m3 = 0;
    double water_density_kg_m3 = 0;
    double evaporated_g = 0;
    double mass_g = 0;  // after evaporation and buoyancy
    Uncertain volume_mL;
    Uncertain volume_per_tip_mL;
    Uncertain error_percent;               // e
    std::optional<Uncertain> flow_mL_min;  // Q; none for a static check
    std::optional<Uncertain> reference_intensity_mm_h;
    std::optional<double> indicated_intensity_mm_h;
    std::optional<double> mean_interval_s;
    std::optional<Uncertain> compartment_a_mL;  // mean volume per tip of each side
    std::optional<Uncertain> compartment_b_mL;
    std::vector<BudgetComponent> budget;
    Expanded error_expanded;  // k and U(e), per cent
    // The laboratory's CMC at this intensity, below which U(e) is not stated
    // (calib/rate/capability_floor.hpp).
    std::optional<double> least_U_percent;
    std::vector<StepRepeat> repeats;  // none: the step was run once
};

// Fault: bad_value (negative mass, no tips, temperature outside 0 to 50 degC, not finite, ...).
// scatter: of single tips, pooled over several steps; none: what this step alone has shown.
Result<StepResult> evaluate_step(const StepObservation& observation, const Gauge& gauge,
                                 const BenchMetrology& bench, double coverage = default_coverage,
                                 const std::optional<TipScatter>& scatter = std::nullopt,
                                 const CommonCauses& causes = {});

// Values of a step whose uncertainties its budget gives.
struct StepValues {
    double volume_mL = 0;
    double volume_per_tip_mL = 0;
    double error_percent = 0;
    std::optional<double> flow_mL_min;
    std::optional<double> reference_intensity_mm_h;
};
// Values with the uncertainties of result.budget; compartments from result.observation.
// Fault: not_finite, naming the component.
Outcome complete_from_budget(StepResult& result, const StepValues& values, double coverage);

}  // namespace tipwright::calib
