// Checks of covariance matrices before anything is computed from them: square, finite, symmetric, no
// negative variance, no correlation that cannot be. A Fault names the first offending point (1-based).
// Positive semidefinite is enough here; what must be invertible is checked where it is inverted.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

#include "calib/base/fault.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

// `name` says which matrix in a message, for example "covariance of y"; `item` what a row is, "point".
Outcome check_covariance(const SquareMatrix& matrix, std::size_t n, std::string_view name,
                         std::string_view item = "point");

// The joint covariance [cov_x cov_xy; cov_xy' cov_y]. cov_x and cov_xy may be empty.
Outcome check_joint_covariance(const SquareMatrix& cov_x, const SquareMatrix& cov_y,
                               const SquareMatrix& cov_xy, std::size_t n);

// Where Cholesky's factorisation of a symmetric matrix finds (almost) nothing left of a variance, below 1e-14
// of it: that quantity is exact or fully correlated with earlier ones. n when the matrix is positive
// definite.
std::size_t first_singular(std::span<const double> values, std::size_t n);
Fault singular_covariance(std::size_t point);

// Everything a fit with so many parameters needs of its points: finite, enough, enough different x, and the
// above.
Outcome check_points(const CalibrationPoints& points, std::size_t parameters);

}  // namespace tipwright::calib
