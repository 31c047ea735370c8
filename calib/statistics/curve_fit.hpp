// Calibration functions of any form, y = f(x; b), by least squares with any covariance in x, y and x-y: the
// Gauss-Newton idea of ISO/TS 28037:2010 clause 10 and ISO/TS 28038 with Levenberg and Marquardt's damping
// (More, Lecture Notes in Mathematics 630 (1978) 105). The true x are eliminated step by step, so points
// without uncertainty in x are welcome. Covariance of b in the Gauss-Newton form. Power law y = a x^b
// ready-made. Units: the caller's. Faults: those of calib/statistics/regression.hpp, each naming the point;
// no_convergence; bad_value (a parameter that the points do not determine; a start at which f is not finite).
#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/statistics/regression.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

struct CurveModel {
    std::function<double(double x, std::span<const double> b)> value;
    // df/db_k and df/dx; where absent, taken by central differences.
    std::function<void(double x, std::span<const double> b, std::span<double> gradient)> gradient;
    std::function<double(double x, std::span<const double> b)> slope;
};

struct FittedCurve {
    CurveModel model;
    std::vector<double> parameters;
    SquareMatrix covariance;
    double chi2 = 0;
    double dof = 0;
    double chi2_limit = 0;  // 95 % quantile
    bool consistent = false;
    double parameter_dof = infinite_dof;
    std::vector<double> x_adjusted;
    std::vector<double> residuals;  // y - f(x_adjusted)
    int iterations = 0;
};

Result<FittedCurve> fit_curve(const CalibrationPoints& points, const CurveModel& model,
                              std::vector<double> start);

// y = a x^b. Starts from the line through the logarithms; all x and y must be above zero.
CurveModel power_law();
Result<FittedCurve> fit_power_law(const CalibrationPoints& points);

// y at an uncertain x independent of the fit.
Uncertain evaluate(const FittedCurve& fit, const Uncertain& x);
FittedCurve with_scale(FittedCurve fit, const UnknownScale& scale);

}  // namespace tipwright::calib
