// Comparison of results: E_n numbers, error curves of several records side by side, and up to which intensity
// a gauge keeps its accuracy. What becomes of a gauge over years: calib/decision/drift.hpp.
//   E_n = (a - b) / sqrt(U_a^2 + U_b^2 - 2 k_a k_b cov(a, b))     |E_n| <= 1: they agree (ISO 13528:2022,
//   ISO/IEC 17043)
// Errors of indication in per cent, intensities in mm/h, time in years. Curves between their points by
// calib/statistics/monotone.hpp; no extrapolation.
// Faults: too_few_points, bad_value (outside a curve), not_finite, bad_covariance.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/rate/step_result.hpp"
#include "calib/statistics/monotone.hpp"

namespace tipwright::calib {

// Covariance of the errors of two different steps, in per cent squared, through the causes that both name:
// of one run, two runs, two years (calib/rate/common_causes.hpp).
double error_covariance(const StepResult& a, const StepResult& b);

// The same from what makes both uncertainties: the difference over its expanded uncertainty, which what both
// have in common leaves alone, with the degrees of freedom of the difference.
double en_number(const Uncertain& a, const Contributions& of_a, const Uncertain& b, const Contributions& of_b,
                 double coverage = default_coverage);

double en_number(const Uncertain& a, const Uncertain& b, double coverage = default_coverage,
                 double covariance = 0);

struct ErrorCurve {
    std::string name;                       // of the record, for people
    double time_years = 0;                  // when it was measured, any origin
    MonotoneInterpolation errors;           // e over reference intensity
    std::vector<Contributions> parts = {};  // of each point, in per cent
    bool at_rest = false;                   // a static check: one error, given from 0 to static_to_mm_h
    std::string own = {};                   // names what this measurement shares with no other
};
inline constexpr double static_to_mm_h = 1;
// Steps without a reference intensity are left out; steps of one intensity are joined to their mean. Where
// none has an intensity, all of them are one static check. own: what tells this measurement from every other,
// also of the same gauge at the same moment (the digest of its source); empty: name and time do.
Result<ErrorCurve> error_curve(std::string name, double time_years, const std::vector<StepResult>& steps,
                               std::string own = {});
Result<Uncertain> error_at(const ErrorCurve& curve, double intensity_mm_h);
// What makes the uncertainty of that, in per cent. Empty: outside the curve.
Contributions parts_at(const ErrorCurve& curve, double intensity_mm_h);

struct CurveDifference {
    double intensity_mm_h = 0;
    Uncertain first_percent;
    Uncertain second_percent;
    Uncertain difference_percent;  // second minus first
    double U_percent = 0;
    double en = 0;
};
// At those of the wanted intensities that both curves reach; none given: at the points of either.
Result<std::vector<CurveDifference>> compare(const ErrorCurve& first, const ErrorCurve& second,
                                             std::vector<double> intensities_mm_h = {},
                                             double coverage = default_coverage);

// Up to which intensity |e| (or, guarded, |e| + U) stays within a limit, from the curve's first point
// upwards.
struct AccuracyRange {
    double from_mm_h = 0;
    double to_mm_h = 0;
    bool kept_to_the_end = false;  // the curve ends before the limit is met
    bool kept_at_all = false;
};
Result<AccuracyRange> accuracy_range(const ErrorCurve& curve, double limit_percent, bool guarded,
                                     double coverage = default_coverage);

}  // namespace tipwright::calib
