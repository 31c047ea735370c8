// Drift of a gauge in service, adjustments left aside: the error as found at the end of each stretch, less
// the error as left at its beginning. Two questions are asked of it:
//   drift_per_year   how fast does the error move, at one intensity, as one rate through all stretches?
//   largest_drift    how far has it moved in all, at the intensity where it moved furthest?
// Errors of indication in per cent, intensities in mm/h, time in years. What results have in common (rim,
// balance as it was calibrated, ...) is no part of a drift's uncertainty.
// Faults: too_few_points, bad_value (times not in order), not_finite, bad_covariance.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/decision/comparison.hpp"

namespace tipwright::calib {

// One stretch of service without adjustment: error as left at its beginning, as found at its end.
struct ServiceStretch {
    double from_years = 0;
    Uncertain left_percent;
    double to_years = 0;
    Uncertain found_percent;
    // What makes both uncertainties. What they, or two stretches, have in common cancels or counts once;
    // empty: nothing is in common.
    Contributions left_parts = {};
    Contributions found_parts = {};
};
// One constant rate for all stretches, fitted to them.
struct DriftPerYear {
    Uncertain percent_per_year;
    double U_percent_per_year = 0;
    bool significant = false;  // exceeds its expanded uncertainty
    int stretches = 0;
    double chi2 = 0;
    double dof = 0;
    bool consistent = true;  // one constant drift explains all stretches (95 %)
    bool widened = false;    // not consistent: u multiplied by the root of chi2/dof
};
Result<DriftPerYear> drift_per_year(const std::vector<ServiceStretch>& stretches,
                                    double coverage = default_coverage);

// What is reached of an intensity differs from run to run: so far beyond its ends, relatively, a curve still
// holds.
inline constexpr double beyond_curve = 0.05;

// A stretch with its whole curves.
struct CurveStretch {
    ErrorCurve left;    // as left, or as last found, at its beginning
    ErrorCurve found;   // as found at its end
    std::string since;  // date of its beginning
};
struct LargestDrift {
    double percent = 0;  // the changes of all stretches added up
    double En = 0;       // over its own U: d / U(d) (ISO 13528:2022 clause 9.6, from memory)
    double at_mm_h = 0;
    std::string since;  // date of the earliest beginning it reaches back to
};
// At the intensities of the newest as-found curve, each as far back as the curves reach. Stretches from the
// newest on. Nothing where they have no intensity in common.
std::optional<LargestDrift> largest_drift(const std::vector<CurveStretch>& stretches);

}  // namespace tipwright::calib
