#include "calib/statistics/regression.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "calib/statistics/covariance.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/eigen_views.hpp"
#include "calib/statistics/factor_columns.hpp"

namespace tipwright::calib {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int max_iterations = 200;
// So little of a variance left counts as nothing.
constexpr double relative_pivot = 1e-14;
constexpr Eigen::Index many_points = 32;

VectorXd vector_of(const std::vector<double>& v) {
    return Eigen::Map<const VectorXd>(v.data(), static_cast<Index>(v.size()));
}

// Powers of t = (x - centre) / scale: a basis in which high powers stay apart from each other.
struct Basis {
    double centre = 0;
    double scale = 1;
    Index count = 0;

    Basis(const VectorXd& x, Index coefficients) : count(coefficients) {
        const double low = x.minCoeff();
        const double high = x.maxCoeff();
        if (coefficients > 1) {
            centre = low + (high - low) / 2;
            scale = (high - low) / 2;
        }
    }

    void values(const VectorXd& xi, MatrixXd& J) const {
        J.col(0).setOnes();
        for (Index k = 1; k < count; ++k) {
            J.col(k) = J.col(k - 1).array() * ((xi.array() - centre) / scale);
        }
    }

    // Slope of the function at each xi, from the powers already in J.
    void slope(const MatrixXd& J, const VectorXd& c, VectorXd& D) const {
        D.setZero();
        for (Index k = 1; k < count; ++k) D += static_cast<double>(k) * c(k) / scale * J.col(k - 1);
    }

    // Matrix that turns coefficients of powers of t into coefficients of powers of x.
    MatrixXd to_monomials() const {
        MatrixXd M = MatrixXd::Zero(count, count);
        for (Index k = 0; k < count; ++k) {
            double term =
                std::pow(scale, -static_cast<double>(k));  // binomial(k, j) (-centre)^(k - j) / scale^k
            for (Index j = k; j >= 0; --j) {
                M(j, k) = term;
                term *= -centre * static_cast<double>(j) / static_cast<double>(k - j + 1);
            }
        }
        return M;
    }
};

struct Problem {
    VectorXd x;
    VectorXd y;
    MatrixXd Ux;  // 0 x 0: none
    MatrixXd Uy;
    MatrixXd Uxy;  // 0 x 0: none
    MatrixXd Uyx;  // its transpose
    Basis basis;

    Problem(const CalibrationPoints& points, Index coefficients)
        : x(vector_of(points.x)),
          y(vector_of(points.y)),
          Ux(matrix_of(points.cov_x)),
          Uy(matrix_of(points.cov_y)),
          Uxy(matrix_of(points.cov_xy)),
          Uyx(Uxy.transpose()),
          basis(x, coefficients) {
        if (Ux.size() == 0 && Uxy.size() != 0) Ux = MatrixXd::Zero(x.size(), x.size());
    }
};

// One linearised step. With residuals g = y - f(xi) - D (x - xi), whose covariance is
// V = Uy + D Ux D - D Uxy - Uyx D, the generalised least-squares step over coefficients and true x
// together is (J' V^-1 J) dc = J' V^-1 g, and the true x follow from the remaining residual. These are
// the iterates of ISO/TS 28037:2010 clauses 7.2 and 10.2 with the true x eliminated, and unlike those
// need no uncertainty in every x.
struct Step {
    VectorXd dc;
    VectorXd weighted;  // V^-1 (g - J dc)
    MatrixXd R;         // triangular factor: J' V^-1 J = R' R
    double chi2 = 0;
};

class Solver {
public:
    explicit Solver(const Problem& problem)
        : p_(problem),
          n_(problem.x.size()),
          count_(problem.basis.count),
          J_(n_, count_),
          D_(VectorXd::Zero(n_)),
          factor_(static_cast<std::size_t>(n_), static_cast<std::size_t>(n_)) {}

    // Index of the point at which V stops being positive definite, or -1.
    Index step(const VectorXd& xi, const VectorXd& c, Step& out) {
        p_.basis.values(xi, J_);
        g_ = p_.y;
        g_.noalias() -= J_ * c;
        if (p_.Ux.size() != 0) {
            p_.basis.slope(J_, c, D_);
            g_ -= D_.cwiseProduct(p_.x - xi);
        }
        if (const Index bad = factor(); bad >= 0) return bad;
        const auto lower = L().triangularView<Eigen::Lower>();
        WJ_ = J_;
        for (Index k = 0; k < count_; ++k) solve_lower(WJ_.col(k).data(), 0);
        Wg_ = g_;
        lower.solveInPlace(Wg_);
        qr_.compute(WJ_);
        out.dc = qr_.solve(Wg_);
        out.weighted = Wg_;
        out.weighted.noalias() -= WJ_ * out.dc;
        out.chi2 = out.weighted.squaredNorm();
        lower.transpose().solveInPlace(out.weighted);
        out.R = qr_.matrixQR().topRows(count_).triangularView<Eigen::Upper>();
        return -1;
    }

    // Estimates of the true x after that step: x - cov(dx, dy - D dx) V^-1 (g - J dc).
    void true_x(const Step& step, VectorXd& xi) {
        xi = p_.x;
        if (p_.Ux.size() == 0) return;
        D_weighted_ = D_.cwiseProduct(step.weighted);
        dx_.noalias() = p_.Ux * D_weighted_;
        dx_ = -dx_;
        if (p_.Uxy.size() != 0) dx_ += p_.Uxy * step.weighted;
        xi -= dx_;
    }

    // Baarda's w of every point: component i of V^-1 (g - J dc) over its standard deviation, the square root
    // of element ii of V^-1 - V^-1 J (J' V^-1 J)^-1 J' V^-1. With q = L^-1, that is q'q less what the
    // coefficients take of it.
    VectorXd normalized_deviations(const Step& step) const {
        MatrixXd q = MatrixXd::Identity(n_, n_);
        for (Index i = 0; i < n_; ++i) solve_lower(q.col(i).data(), i);
        const MatrixXd thin = qr_.householderQ() * MatrixXd::Identity(n_, J_.cols());
        const MatrixXd taken = thin.transpose() * q;
        VectorXd w = VectorXd::Zero(n_);
        for (Index i = 0; i < n_; ++i) {
            const double whole = q.col(i).squaredNorm();
            const double left = whole - taken.col(i).squaredNorm();
            // A point that alone determines a coefficient cannot deviate.
            if (left > 1e-10 * whole) w(i) = step.weighted(i) / std::sqrt(left);
        }
        return w;
    }

private:
    // V = L L', column by column. Index of the point at which (almost) no pivot is left, or -1.
    Index factor() {
        if (n_ >= many_points && factor_many()) return -1;
        for (Index j = 0; j < n_; ++j) {
            double* const column = factor_[static_cast<std::size_t>(j)];
            fill(j, column);
            const double variance = column[j];
            factor_.take_off_earlier(static_cast<std::size_t>(j));
            const double pivot = column[j];
            if (!(pivot > relative_pivot * variance)) return j;
            const double root = std::sqrt(pivot);
            column[j] = root;
            for (Index i = j + 1; i < n_; ++i) column[i] /= root;
        }
        return -1;
    }

    // Of many points blocks pay; where that fails, the other way tells at which point.
    bool factor_many() {
        VectorXd variances(n_);
        for (Index j = 0; j < n_; ++j) {
            fill(j, factor_[static_cast<std::size_t>(j)]);
            variances(j) = factor_[static_cast<std::size_t>(j)][j];
        }
        using Whole = Eigen::Ref<MatrixXd, 0, Eigen::OuterStride<>>;
        Whole whole = Eigen::Map<MatrixXd, 0, Eigen::OuterStride<>>(
            factor_[0], n_, n_, Eigen::OuterStride<>(static_cast<Index>(factor_.stride())));
        if (Eigen::LLT<Whole>(whole).info() != Eigen::Success) return false;
        return (whole.diagonal().array().square() > relative_pivot * variances.array()).all();
    }

    void fill(Index j, double* column) const {
        const double d = D_(j);
        std::fill_n(column, j, 0.0);
        for (Index i = j; i < n_; ++i) column[i] = p_.Uy(i, j);
        if (p_.Ux.size() != 0)
            for (Index i = j; i < n_; ++i) column[i] += D_(i) * p_.Ux(i, j) * d;
        if (p_.Uxy.size() != 0)
            for (Index i = j; i < n_; ++i) column[i] = column[i] - D_(i) * p_.Uxy(i, j) - d * p_.Uyx(i, j);
    }

    // Solves L x = b in place, b being zero before that row, four unknowns and then what is below them at a
    // time: the order, and so the last bit, of Eigen's solution for matrices, whose way there pays for large
    // ones alone.
    void solve_lower(double* x, Index first_row) const {
        constexpr Index at_once = 4;
        for (Index begin = first_row / at_once * at_once; begin < n_; begin += at_once) {
            const Index end = std::min(begin + at_once, n_);
            for (Index k = begin; k < end; ++k) {
                const double* const column = factor_[static_cast<std::size_t>(k)];
                x[k] *= 1 / column[k];
                for (Index i = k + 1; i < end; ++i) x[i] -= x[k] * column[i];
            }
            if (end == n_) break;
            const double* const first = factor_[static_cast<std::size_t>(begin)];
            const double* const second = factor_[static_cast<std::size_t>(begin + 1)];
            const double* const third = factor_[static_cast<std::size_t>(begin + 2)];
            const double* const fourth = factor_[static_cast<std::size_t>(begin + 3)];
            const double a = x[begin], b = x[begin + 1], c = x[begin + 2], d = x[begin + 3];
            for (Index i = end; i < n_; ++i)
                x[i] -= first[i] * a + second[i] * b + third[i] * c + fourth[i] * d;
        }
    }

    using Factor = const Eigen::Map<const MatrixXd, 0, Eigen::OuterStride<>>;
    Factor L() const {
        return {factor_[0], n_, n_, Eigen::OuterStride<>(static_cast<Index>(factor_.stride()))};
    }

    const Problem& p_;
    Index n_;
    Index count_;
    MatrixXd J_;
    VectorXd D_;
    VectorXd g_;
    VectorXd D_weighted_;
    VectorXd dx_;
    FactorColumns factor_;
    MatrixXd WJ_;
    VectorXd Wg_;
    Eigen::HouseholderQR<MatrixXd> qr_;
};

}  // namespace

Result<FittedPolynomial> fit_polynomial(const CalibrationPoints& points, int degree) {
    if (!(degree >= 0 && degree <= max_polynomial_degree)) {
        return Fault{
            FaultCode::bad_value, "degree " + std::to_string(degree) + " is not one of 0 to 8", "degree", {}};
    }
    const auto coefficients = static_cast<Index>(degree) + 1;
    if (Outcome checked = check_points(points, static_cast<std::size_t>(coefficients)); !checked) {
        return checked.fault();
    }
    const Problem problem(points, coefficients);
    Solver solver(problem);

    // Start: ordinary least squares through the points as they are.
    VectorXd xi = problem.x;
    MatrixXd start(xi.size(), coefficients);
    problem.basis.values(xi, start);
    VectorXd c = start.householderQr().solve(problem.y);

    Step step;
    FittedPolynomial fit;
    const bool linear = problem.Ux.size() == 0;
    double last_size = std::numeric_limits<double>::infinity();
    for (bool converged = false; !converged;) {
        if (fit.iterations == max_iterations) {
            return Fault{FaultCode::no_convergence,
                         "the fit did not settle within " + std::to_string(max_iterations) + " iterations",
                         "degree " + std::to_string(degree), "check the points and their uncertainties"};
        }
        ++fit.iterations;
        if (const Index bad = solver.step(xi, c, step); bad >= 0)
            return singular_covariance(static_cast<std::size_t>(bad));
        if (!step.dc.allFinite()) {
            return Fault{
                FaultCode::no_convergence, "the fit ran away", "degree " + std::to_string(degree), {}};
        }
        c += step.dc;
        solver.true_x(step, xi);
        // Length of the step in units of the coefficients' own uncertainty. It shrinks by a constant
        // factor each time until rounding keeps it from shrinking further; both ends count as settled.
        const double size = (step.R * step.dc).norm();
        converged = linear ? fit.iterations == 2 : size <= 1e-13 || (size <= 1e-8 && size >= last_size);
        last_size = size;
    }

    const VectorXd deviations = solver.normalized_deviations(step);
    const MatrixXd to_x = problem.basis.to_monomials();
    const MatrixXd inverse_R =
        step.R.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(coefficients, coefficients));
    const MatrixXd half = to_x * inverse_R;
    const MatrixXd covariance = half * half.transpose();
    const VectorXd monomials = to_x * c;
    if (!monomials.allFinite() || !covariance.allFinite()) {
        return Fault{FaultCode::not_finite,
                     "the fit gave no finite coefficients",
                     "degree " + std::to_string(degree),
                     {}};
    }
    MatrixXd J(xi.size(), coefficients);
    problem.basis.values(xi, J);
    const VectorXd residuals = problem.y - J * c;

    fit.coefficients.assign(monomials.begin(), monomials.end());
    fit.covariance = SquareMatrix(static_cast<std::size_t>(coefficients));
    for (Index i = 0; i < coefficients; ++i) {
        for (Index j = 0; j < coefficients; ++j) {
            fit.covariance(static_cast<std::size_t>(i), static_cast<std::size_t>(j)) = covariance(i, j);
        }
    }
    fit.chi2 = step.chi2;
    fit.dof = static_cast<double>(xi.size() - coefficients);
    fit.chi2_limit = fit.dof > 0 ? chi_squared_quantile(0.95, fit.dof) : 0;
    fit.consistent = fit.dof > 0 ? fit.chi2 <= fit.chi2_limit : true;
    fit.x_adjusted.assign(xi.begin(), xi.end());
    fit.residuals.assign(residuals.begin(), residuals.end());
    fit.normalized_deviations.assign(deviations.begin(), deviations.end());
    return fit;
}

}  // namespace tipwright::calib
