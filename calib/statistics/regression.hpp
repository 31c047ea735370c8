// Straight-line and polynomial calibration functions by least squares with any covariance.
// ISO/TS 28037:2010: weighted (clause 6), generalised distance (7), Gauss-Markov (9), generalised
// Gauss-Markov (10). Parameter covariance in
// the Gauss-Newton form of the standard. Polynomials after the idea of ISO/TS 28038.
// Matrices are row-major and square of the number of points; units are the caller's.
#pragma once

#include <cstddef>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

// Square matrix of side n, row-major. A light type so that headers need no linear algebra.
struct SquareMatrix {
    std::size_t n = 0;
    std::vector<double> values;

    SquareMatrix() = default;
    explicit SquareMatrix(std::size_t side) : n(side), values(side * side, 0.0) {}
    double& operator()(std::size_t row, std::size_t column) { return values[row * n + column]; }
    double operator()(std::size_t row, std::size_t column) const { return values[row * n + column]; }
};

// Points with uncertainty. An empty matrix is zero: no uncertainty in x, or no covariance between x and y.
struct CalibrationPoints {
    std::vector<double> x;
    std::vector<double> y;
    SquareMatrix cov_x;   // cov(x_i, x_j)
    SquareMatrix cov_y;   // cov(y_i, y_j), never empty
    SquareMatrix cov_xy;  // cov(x_i, y_j)
};

struct FittedPolynomial {
    std::vector<double> coefficients;  // ascending powers
    SquareMatrix covariance;
    double chi2 = 0;                 // observed, at the solution
    double dof = 0;                  // points minus coefficients
    double chi2_limit = 0;           // 95 % quantile at dof
    bool consistent = false;         // chi2 <= chi2_limit (clause 6.3 and its like)
    std::vector<double> x_adjusted;  // estimates of the true x
    std::vector<double> residuals;   // y - f(x_adjusted)
    // Baarda's w: how far each point lies from where the others put it, in standard deviations of just that.
    // 0 for a point that nothing checks.
    std::vector<double> normalized_deviations;
    int iterations = 0;
};

inline constexpr int max_polynomial_degree = 8;
inline constexpr std::size_t max_points = 1000;  // the work grows with its third power

// Degree 0 (constant), 1 (line), 2, ... Faults: too_few_points (fewer points than coefficients),
// bad_covariance (not symmetric, not positive definite; names the point), not_finite (names the point),
// no_convergence.
Result<FittedPolynomial> fit_polynomial(const CalibrationPoints& points, int degree);

}  // namespace tipwright::calib
