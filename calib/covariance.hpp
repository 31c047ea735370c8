// Checks of covariance matrices before anything is computed from them: square, finite, symmetric, no
// negative variance, no correlation that cannot be. A Fault names the first offending point (1-based).
// Positive semidefinite is enough here; what must be invertible is checked where it is inverted.
#pragma once

#include <cstddef>
#include <string_view>

#include "calib/fault.hpp"
#include "calib/regression.hpp"

namespace tipwright::calib {

// `name` says which matrix in a message, for example "covariance of y"; `item` what a row is, "point".
Outcome check_covariance(const SquareMatrix& matrix, std::size_t n, std::string_view name,
                         std::string_view item = "point");

// The joint covariance [cov_x cov_xy; cov_xy' cov_y]. cov_x and cov_xy may be empty.
Outcome check_joint_covariance(const SquareMatrix& cov_x, const SquareMatrix& cov_y,
                               const SquareMatrix& cov_xy, std::size_t n);

}  // namespace tipwright::calib
