#include "calib/statistics/linear_fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/QR>
#include <cmath>
#include <string>

#include "calib/statistics/covariance.hpp"
#include "calib/statistics/eigen_views.hpp"

namespace tipwright::calib {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double rank_tolerance = 1e-13;

Outcome check(const Design& design, const std::vector<double>& y) {
    const std::string where = "linear fit";
    if (design.columns == 0 || design.values.size() != design.rows * design.columns ||
        y.size() != design.rows) {
        return Fault{FaultCode::bad_value, "design and values do not match in size", where, {}};
    }
    if (design.rows > max_points || design.rows < design.columns) {
        return Fault{
            design.rows < design.columns ? FaultCode::too_few_points : FaultCode::bad_value,
            std::to_string(design.rows) + " points for " + std::to_string(design.columns) + " parameters",
            where,
            {}};
    }
    for (std::size_t i = 0; i < design.rows; ++i) {
        bool finite = std::isfinite(y[i]);
        for (std::size_t j = 0; j < design.columns; ++j) {
            finite = finite && std::isfinite(design.values[i * design.columns + j]);
        }
        if (!finite) {
            return Fault{FaultCode::not_finite, "a value is not a finite number",
                         "point " + std::to_string(i + 1), "leave the point out"};
        }
    }
    return Done{};
}

}  // namespace

Result<LinearFit> fit_linear(const Design& design, const std::vector<double>& y, const SquareMatrix& cov_y) {
    if (Outcome checked = check(design, y); !checked) return checked.fault();
    const auto n = static_cast<Index>(design.rows);
    const auto p = static_cast<Index>(design.columns);
    const MatrixXd X = Eigen::Map<const RowMajor>(design.values.data(), n, p);
    const VectorXd observed = Eigen::Map<const VectorXd>(y.data(), n);

    MatrixXd whitened = X;
    VectorXd target = Eigen::Map<const VectorXd>(y.data(), n);
    Eigen::LLT<MatrixXd> factor;
    if (cov_y.n != 0) {
        if (Outcome checked = check_covariance(cov_y, design.rows, "covariance of y"); !checked)
            return checked.fault();
        const MatrixXd V = Eigen::Map<const RowMajor>(cov_y.values.data(), n, n);
        factor.compute(V);
        if (const std::size_t bad = first_singular(cov_y.values, design.rows); bad < design.rows) {
            return singular_covariance(bad);
        }
        factor.matrixL().solveInPlace(whitened);
        factor.matrixL().solveInPlace(target);
    }

    VectorXd scale(p);
    for (Index j = 0; j < p; ++j) {
        const double norm = whitened.col(j).norm();
        scale(j) = norm > 0 ? norm : 1;
        whitened.col(j) /= scale(j);
    }
    Eigen::ColPivHouseholderQR<MatrixXd> qr(whitened);
    qr.setThreshold(rank_tolerance);
    if (qr.rank() < p) {
        const Index dependent = qr.colsPermutation().indices()(qr.rank());
        return Fault{FaultCode::bad_value, "this column of the design depends on the others",
                     "column " + std::to_string(dependent + 1), "leave it out"};
    }
    VectorXd b = qr.solve(target);
    // One step of refinement recovers digits lost in a badly conditioned design.
    b += qr.solve(target - whitened * b);

    const MatrixXd R = qr.matrixR().topRows(p).triangularView<Eigen::Upper>();
    const MatrixXd half =
        scale.cwiseInverse().asDiagonal() *
        (qr.colsPermutation() * R.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(p, p)));
    const MatrixXd covariance = half * half.transpose();

    LinearFit fit;
    fit.covariance = SquareMatrix(design.columns);
    for (Index i = 0; i < p; ++i) {
        fit.parameters.push_back(b(i) / scale(i));
        for (Index j = 0; j < p; ++j) {
            fit.covariance(static_cast<std::size_t>(i), static_cast<std::size_t>(j)) = covariance(i, j);
        }
    }
    const VectorXd rest = target - whitened * b;
    const VectorXd residuals = observed - X * b.cwiseQuotient(scale);
    fit.residuals.assign(residuals.begin(), residuals.end());
    fit.chi2 = rest.squaredNorm();
    fit.dof = static_cast<double>(n - p);
    return fit;
}

}  // namespace tipwright::calib
