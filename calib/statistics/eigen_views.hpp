// Views of this folder's light matrix type for linear algebra. For .cpp files only: it brings in Eigen.
#pragma once

#include <Eigen/Core>

#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

inline Eigen::MatrixXd matrix_of(const SquareMatrix& m) {
    const auto n = static_cast<Eigen::Index>(m.n);
    return Eigen::Map<const RowMajor>(m.values.data(), n, n);
}

}  // namespace tipwright::calib
