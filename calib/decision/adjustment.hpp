// Adjustment advice: by how much the volume of each compartment should change so that the error of indication
// is centred, what that will leave, and how many turns of the stop screws it takes.
//   v' = v + d     e' = A h_n/(v + d) - 1      each side: d_A = d - b, d_B = d + b, b = half of v_A - v_B
// A stop screw changes the volume at which a compartment tips by the same amount at every rate; what runs
// past during the movement stays (Calder & Kidd 1978: V0 changes, tau does not). Uncertainty by JCGM
// 100:2008. Units: mL, %, mm/h; turns of a stop screw, positive for more volume. Faults: too_few_points (no
// step), bad_value (a change larger than the compartment, wrong options), inconsistent.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/base/plan.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/decision/conformity.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

// An earlier adjustment of one stop screw: what was turned and what came.
struct ScrewTurn {
    double turns = 0;
    Uncertain change_mL;  // of the compartment's volume, as left minus as found
};

struct ScrewSensitivity {
    Uncertain mL_per_turn;
    int adjustments = 0;  // learnt from so many
    double chi2 = 0;
    double dof = 0;
    bool consistent = true;
    bool widened = false;  // not consistent: u multiplied by the root of chi2/dof, and said so
};

// From earlier adjustments and, if there is one, the value stated for the gauge kind.
Result<ScrewSensitivity> learn_screw_sensitivity(
    const std::vector<ScrewTurn>& earlier, const std::optional<Uncertain>& stated_mL_per_turn = std::nullopt);

struct AdjustmentGoal {
    // Intensity at which the error should vanish; none: smallest of the largest |e| + U over the steps.
    std::optional<double> intensity_mm_h;
    double target_error_percent = 0;
    double coverage = default_coverage;
    // With limits the change is the one by which most steps pass, and none is brought further out than it is.
    Limits limits;
    DecisionRule rule = DecisionRule::simple_acceptance;
    double guard_band_times_U = 1;
    double required_probability = 0.95;
};

struct CompartmentAdvice {
    std::string compartment;  // "A", "B"; "spoon" when there is one
    Uncertain present_mL;     // mean volume per tip over the steps
    Uncertain change_mL;      // positive: must hold more
    double change_percent = 0;
    std::optional<Uncertain> turns;
    bool significant = false;  // the change exceeds its own expanded uncertainty
};

struct PredictedStep {
    int step = 0;
    double intensity_mm_h = 0;
    Uncertain found_percent;
    Uncertain left_percent;  // predicted
    double left_U_percent = 0;
    std::optional<LimitRow> limits;
    Verdict found = Verdict::no_limit;
    Verdict left = Verdict::no_limit;
};

// Something to know of an advice: which (all of them: adjustment_remark_ids) with its numbers, and in plain
// English. The page has the sentence of each in its languages.
struct AdjustmentRemark {
    struct Number {
        std::string name;
        std::vector<double> values;  // of several rates or steps: in the order in which they are told
        int decimals = 0;
    };
    std::string id;
    std::vector<Number> numbers;
    std::string text;
};
inline constexpr const char* adjustment_remark_ids[] = {"sides_alike",      "sides_widened", "cannot_pass",
                                                        "cannot_pass_stay", "leave_alone",   "worse",
                                                        "spread",           "not_stated"};

struct AdjustmentAdvice {
    Uncertain mean_change_mL;  // d
    std::vector<CompartmentAdvice> compartments;
    std::vector<PredictedStep> predicted;
    double largest_found_percent = 0;  // largest |e| + U before
    double largest_left_percent = 0;   // and predicted after
    std::optional<bool> can_pass;      // some setting brings every step within its limits; none: no limits
    bool sides_known = false;          // A and B were told apart
    std::vector<AdjustmentRemark> remarks;
};

// `setting_u_mL`: how well a compartment can be set, standard uncertainty (screw, lock nut, drop hanging on
// it).
Result<AdjustmentAdvice> advise_adjustment(const std::vector<StepResult>& found, const Gauge& gauge,
                                           const AdjustmentGoal& goal = {},
                                           const std::optional<ScrewSensitivity>& sensitivity = std::nullopt,
                                           double setting_u_mL = 0);

// After the adjustment: did what was predicted come? E_n of measured against predicted error, step by step;
// components of the budget that both runs share count once.
struct PredictionCheck {
    int step = 0;
    double intensity_mm_h = 0;
    double predicted_percent = 0;
    double measured_percent = 0;
    double en = 0;
    bool as_predicted = false;  // |E_n| <= 1
};
Result<std::vector<PredictionCheck>> check_prediction(const AdjustmentAdvice& advice,
                                                      const std::vector<StepResult>& found,
                                                      const std::vector<StepResult>& left,
                                                      double coverage = default_coverage);

}  // namespace tipwright::calib
