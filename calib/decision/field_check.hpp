// Checks of a gauge where it stands, without pump or balance.
//   Pour check: a known volume V poured or dripped into the funnel, N tips counted.
//   Discharge check: the water a gauge let through, collected at its drain and weighed later, against what
//   its logger recorded. e = (N + c) h_n A / (10 V) - 1     c: tips' worth of water that stayed in the
//   compartments, below
// A compartment part-filled at the beginning or end holds anything from nothing to one tip (JCGM 100:2008
// clause 4.3.7): unknown at one edge it is half a tip with u = 1/sqrt 12, at both none with u = 1/sqrt 6.
// Units: mL, g, mm, mm/h, per cent. Both see the mean over the rates that occurred, never the curve of
// errors. Faults: bad_value and not_finite, naming the quantity.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/decision/conformity.hpp"
#include "calib/statistics/budget.hpp"
#include "calib/tips/observation.hpp"

namespace tipwright::calib {

// What the compartment that is filling held when counting began and ended.
enum class FillLevel {
    at_tip,  // a tip had just fallen: nothing
    unknown,
};

struct FieldLimits {
    double low_percent = 0;
    double high_percent = 0;
    DecisionRule rule = DecisionRule::simple_acceptance;
    double required_probability = 0.95;
};

struct PourCheck {
    Uncertain poured_mL;
    Uncertain retained_mL;  // clung to funnel and filter and never reached the compartments
    int tips = 0;
    FillLevel begin = FillLevel::at_tip;
    FillLevel end = FillLevel::unknown;
    std::optional<double> duration_s;           // of the pouring, for the intensity
    std::optional<double> tip_scatter_percent;  // of a single tip, standard deviation
};

struct DischargeCheck {
    Uncertain weighed_g;    // balance reading of water alone: full minus empty vessel
    Uncertain lost_g;       // evaporated or spilt between drain and balance
    Conditions conditions;  // at the weighing
    int logged_tips = 0;
    // What the logger recorded as depth, where it corrects for rate; none: tips times the nominal depth.
    std::optional<double> logged_depth_mm;
    FillLevel begin = FillLevel::unknown;
    FillLevel end = FillLevel::unknown;
    std::optional<double> tip_scatter_percent;
};

// What is remarked of a check; `first`, `second`: its numbers.
enum class FieldNote {
    too_coarse,               // U and half the width of the limits, %
    moved_since_certificate,  // E_n
    poured_too_fast,          // mm/h
    much_lost,                //
    part_tip_added,           // the count did not end on a tip; tips added
    part_tip_taken_off,       // it did not begin on one; tips taken off
};
struct FieldRemark {
    FieldNote note = FieldNote::too_coarse;
    double first = 0;
    double second = 0;
};
// In English; a page takes its sentence from its words file.
std::string remark_text(const FieldRemark& remark);

// Beyond this a gauge that still tips at all does not err: rather tips or water were counted wrongly. Common
// practice, no source.
inline constexpr double credible_error_percent = 30;

struct FieldCheck {
    Uncertain volume_mL;  // that passed the compartments
    Uncertain volume_per_tip_mL;
    double depth_true_mm = 0;  // volume over catch area
    double depth_indicated_mm = 0;
    std::optional<double> intensity_mm_h;
    Uncertain error_percent;
    Expanded error_expanded;
    std::vector<BudgetInput> inputs;  // the budget: quantities and their contributions to e, in per cent
    std::vector<double> contributions_percent;
    std::optional<StepConformity> conformity;
    std::optional<double> en;  // against the error the last certificate gives
    std::vector<FieldRemark> remarks;
    bool hardly_credible = false;  // |e| beyond credible_error_percent
    double tips_that_fit = 0;      // tips by which the error would vanish
};

// `certified_error_percent`: error at that intensity from the last calibration.
Result<FieldCheck> evaluate_pour(const PourCheck& check, const Gauge& gauge,
                                 const std::optional<FieldLimits>& limits = std::nullopt,
                                 const std::optional<Uncertain>& certified_error_percent = std::nullopt,
                                 double coverage = default_coverage);

Result<FieldCheck> evaluate_discharge(const DischargeCheck& check, const Gauge& gauge,
                                      const std::optional<FieldLimits>& limits = std::nullopt,
                                      const std::optional<Uncertain>& certified_error_percent = std::nullopt,
                                      double coverage = default_coverage);

}  // namespace tipwright::calib
