// KindModel: what one kind of gauge does, from several specimens, each measured once or more.
//   y = (1 + e/100)^-1 = v / (A h_n)     linear in the intensity where v = V0 + tau Q (Calder & Kidd 1978)
// Mean gauge: straight between knots in y, one knot where the trial measured; below the lowest knot constant,
// above the highest as between the last two. Specimens: level and tilt (their movement times differ), going
// together or not; runs of a specimen differ in level; the rest is residual. REML:
// calib/trial/mixed_model.hpp. What the bench did alike to every specimen (shared parts of the budgets)
// cannot show in such a spread: it is kept apart, u_common_percent, and added to what is said of one kind,
// not to differences between two. Intensities mm/h, errors in per cent. Faults: too_few_points (fewer than
// two specimens, no intensity), bad_value (an error of -100 % or less), those of mixed_model.hpp; each names
// the kind.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/trial/mixed_model.hpp"

namespace tipwright::calib::trial {

struct TrialPoint {
    double intensity_mm_h = 0;  // reference
    double error_percent = 0;
    double u_common_percent = 0;
};

struct TrialRun {
    int specimen = 0;  // 0-based
    std::vector<TrialPoint> points;
};

struct KindData {
    std::string kind;
    int specimens = 0;
    std::vector<TrialRun> runs;
};

struct KindModel {
    std::string kind;
    int specimens = 0;
    int runs = 0;
    std::vector<double> knots_mm_h;
    double tilt_unit_mm_h = 1;  // intensity at which tilt counts as much as level
    MixedData data;
    MixedModel model;
    double u_common_percent = 0;
};

inline constexpr std::size_t max_knots = 40;

Result<KindModel> model_kind(const KindData& data);

// Weight of each knot's y at an intensity; they add to 1.
std::vector<double> knot_weights(const std::vector<double>& knots, double intensity_mm_h);

// Of the curve at an intensity: errors in per cent.
struct CurveValue {
    double intensity_mm_h = 0;
    Uncertain mean;         // of the mean gauge, the bench's common part included
    double U_mean = 0;      // at the coverage
    double between_sd = 0;  // of single gauges about it
    double within_sd = 0;   // of one gauge's runs
    double low = 0;         // so many of such gauges lie between: expected content, Guttman 1970, chapter 2
    double high = 0;
};
CurveValue curve_at(const KindModel& kind, double intensity_mm_h, double coverage = 0.95);

// Probability that a gauge of this kind, taken at random, keeps |e| <= limit at the intensity.
double probability_within(const KindModel& kind, double intensity_mm_h, double limit_percent);

// From the lowest knot upwards, the highest intensity up to which that probability is kept.
struct KeptRange {
    bool at_all = false;
    bool to_the_end = false;  // the trial measured no higher
    double to_mm_h = 0;
};
KeptRange kept_range(const KindModel& kind, double limit_percent, double probability);

}  // namespace tipwright::calib::trial
