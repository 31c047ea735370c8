// Straight-line and polynomial calibration functions by least squares with any covariance.
// ISO/TS 28037:2010: weighted (clause 6), generalised distance (7), Gauss-Markov (9), generalised
// Gauss-Markov (10); scale unknown (Annex E); inverse and forward evaluation (11). Parameter covariance in
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
    double chi2 = 0;                        // observed, at the solution
    double dof = 0;                         // points minus coefficients
    double chi2_limit = 0;                  // 95 % quantile at dof
    bool consistent = false;                // chi2 <= chi2_limit (clause 6.3 and its like)
    std::vector<double> x_adjusted;         // estimates of the true x
    double coefficient_dof = infinite_dof;  // of the covariance: finite when the scale was unknown
    std::vector<double> residuals;          // y - f(x_adjusted)
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

// Forward evaluation, clause 11.2: y at an uncertain x that is independent of the fit.
Uncertain evaluate(const FittedPolynomial& fit, const Uncertain& x);
// Inverse evaluation of a line, clause 11.1: x at an uncertain y independent of the fit.
Result<Uncertain> evaluate_inverse(const FittedPolynomial& line, const Uncertain& y);
// The same for any degree, within a range in which the function only rises or only falls.
Result<Uncertain> evaluate_inverse(const FittedPolynomial& fit, const Uncertain& y, double low, double high);

// Annex E: covariances known up to a factor sigma^2, estimated from the residuals.
enum class ScaleEstimate {
    residual,   // sigma^2 = chi2/(m - n): scale of a t distribution with m - n degrees of freedom
    posterior,  // sigma^2 = chi2/(m - n - 2): that distribution's standard deviation
};
struct UnknownScale {
    double sigma = 1;
    double dof = infinite_dof;  // m - n
};
// Fault: too_few_points.
Result<UnknownScale> unknown_scale(double chi2, double dof, ScaleEstimate estimate = ScaleEstimate::residual);
// The fit with its covariance scaled. The consistency test then says nothing any more.
FittedPolynomial with_scale(FittedPolynomial fit, const UnknownScale& scale);

// Fault inconsistent, naming the worst point, when a normalised deviation exceeds the limit: no model choice
// makes up for such a point.
inline constexpr double wild_deviation = 10;
Outcome refuse_wild_points(const FittedPolynomial& fit, double limit = wild_deviation);

}  // namespace tipwright::calib
