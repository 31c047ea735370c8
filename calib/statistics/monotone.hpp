// Monotone interpolation through uncertain points: piecewise cubic, Fritsch and Carlson, SIAM J. Numer.
// Anal. 17 (1980) 238. Between two points it never leaves the range of their values. A last resort for points
// that no formula describes. Units: those of the points. No extrapolation. Uncertainty: first order from the
// covariance of the points (x, y and between), plus, between points, what the choice of curve is worth: the
// distance to straight lines between the points as a rectangular half-width. Faults: too_few_points (below
// 2), not_finite, bad_covariance, duplicate (two points at one x), bad_value (x outside).
#pragma once

#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

class MonotoneCurve {
public:
    // Needs ascending, distinct x of equal number as y, two at least; make_monotone_curve checks.
    MonotoneCurve(std::vector<double> x, std::vector<double> y);

    double value(double x) const;
    double slope(double x) const;
    // Straight lines between the points.
    double linear(double x) const;

    const std::vector<double>& x() const { return x_; }
    const std::vector<double>& y() const { return y_; }

private:
    std::size_t segment(double x) const;

    std::vector<double> x_;
    std::vector<double> y_;
    std::vector<double> tangents_;
};

struct MonotoneInterpolation {
    CalibrationPoints points;  // ascending x
    MonotoneCurve curve;
};

struct InterpolatedValue {
    Uncertain total;
    double u_points = 0;   // from the points and from x
    double u_between = 0;  // from not knowing the curve between them
};

// The points may come in any order; their covariance is reordered with them.
Result<MonotoneInterpolation> make_monotone_interpolation(const CalibrationPoints& points);
Result<InterpolatedValue> evaluate(const MonotoneInterpolation& interpolation, const Uncertain& x);
// Change of the value at x per unit of each point's y.
std::vector<double> weights_of_points(const MonotoneInterpolation& interpolation, double x);

}  // namespace tipwright::calib
