// Linear least squares with any design: y = X b, with any covariance of y (Gauss-Markov). Orthogonal
// factorisation of the whitened, column-scaled design; no normal equations. Covariance of b: (X' V^-1 X)^-1.
// Units: the caller's. Faults: too_few_points, not_finite (names the point), bad_covariance (names the
// point), bad_value (a column that depends on the others, by number).
#pragma once

#include <cstddef>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

// One row per point, one column per parameter, row-major.
struct Design {
    std::size_t rows = 0;
    std::size_t columns = 0;
    std::vector<double> values;
};

struct LinearFit {
    std::vector<double> parameters;
    SquareMatrix covariance;
    std::vector<double> residuals;
    double chi2 = 0;
    double dof = 0;
};

// cov_y empty: unit weights.
Result<LinearFit> fit_linear(const Design& design, const std::vector<double>& y,
                             const SquareMatrix& cov_y = {});

}  // namespace tipwright::calib
