#include "calib/statistics/curve_fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <string>

#include "calib/statistics/covariance.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/eigen_views.hpp"

namespace tipwright::calib {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int max_iterations = 1000;
constexpr int max_true_x_iterations = 50;
// Cube root of the rounding unit: where rounding and truncation of a central difference are equal.
constexpr double difference_step = 6e-6;

double difference_width(double at) {
    return at != 0 ? difference_step * std::fabs(at) : difference_step;
}

std::vector<double> gradient_of(const CurveModel& model, double x, std::span<const double> b) {
    std::vector<double> gradient(b.size());
    if (model.gradient) {
        model.gradient(x, b, gradient);
        return gradient;
    }
    std::vector<double> moved(b.begin(), b.end());
    for (std::size_t k = 0; k < b.size(); ++k) {
        const double h = difference_width(b[k]);
        moved[k] = b[k] + h;
        const double above = model.value(x, moved);
        moved[k] = b[k] - h;
        gradient[k] = (above - model.value(x, moved)) / (2 * h);
        moved[k] = b[k];
    }
    return gradient;
}

double slope_of(const CurveModel& model, double x, std::span<const double> b) {
    if (model.slope) return model.slope(x, b);
    const double h = difference_width(x);
    return (model.value(x + h, b) - model.value(x - h, b)) / (2 * h);
}

// Number of points when the factor is sound.
std::size_t singular_point(const Eigen::LLT<MatrixXd>& factor, const MatrixXd& V) {
    const auto n = static_cast<std::size_t>(V.rows());
    bool sound = factor.info() == Eigen::Success;
    for (Index k = 0; sound && k < V.rows(); ++k) {
        const double pivot = factor.matrixLLT()(k, k);
        sound = pivot * pivot > 1e-14 * V(k, k);
    }
    return sound ? n : std::min(first_singular(std::span(V.data(), n * n), n), n - 1);
}

struct State {
    std::vector<double> b;
    VectorXd xi;                  // estimates of the true x
    VectorXd residual;            // whitened
    Eigen::LLT<MatrixXd> factor;  // of the residuals' covariance
    double chi2 = 0;
};

class Problem {
public:
    Problem(const CalibrationPoints& points, const CurveModel& model)
        : model_(model),
          x_(Eigen::Map<const VectorXd>(points.x.data(), static_cast<Index>(points.x.size()))),
          y_(Eigen::Map<const VectorXd>(points.y.data(), static_cast<Index>(points.y.size()))),
          Ux_(matrix_of(points.cov_x)),
          Uy_(matrix_of(points.cov_y)),
          Uxy_(matrix_of(points.cov_xy)) {
        if (Ux_.size() == 0 && Uxy_.size() != 0) Ux_ = MatrixXd::Zero(x_.size(), x_.size());
    }

    const VectorXd& x() const { return x_; }

    // Chi-squared at b with the best true x for it, found from `xi` on. None: f or its slope is not finite
    // there.
    Result<std::optional<State>> evaluate(const std::vector<double>& b, const VectorXd& xi) const {
        State state;
        state.b = b;
        state.xi = xi;
        for (int i = 0; i < max_true_x_iterations; ++i) {
            VectorXd g(x_.size());
            VectorXd D = VectorXd::Zero(x_.size());
            for (Index k = 0; k < x_.size(); ++k) {
                g(k) = y_(k) - model_.value(state.xi(k), b);
                if (Ux_.size() != 0) D(k) = slope_of(model_, state.xi(k), b);
            }
            MatrixXd V = Uy_;
            if (Ux_.size() != 0) {
                g -= D.cwiseProduct(x_ - state.xi);
                V.noalias() += D.asDiagonal() * Ux_ * D.asDiagonal();
                if (Uxy_.size() != 0) {
                    V -= D.asDiagonal() * Uxy_;
                    V -= (D.asDiagonal() * Uxy_).transpose();
                }
            }
            if (!g.allFinite() || !V.allFinite()) return std::optional<State>();
            state.factor.compute(V);
            if (const std::size_t bad = singular_point(state.factor, V);
                bad < static_cast<std::size_t>(x_.size())) {
                return singular_covariance(bad);
            }
            state.residual = state.factor.matrixL().solve(g);
            state.chi2 = state.residual.squaredNorm();
            if (Ux_.size() == 0) break;
            const VectorXd weighted = state.factor.matrixU().solve(state.residual);
            VectorXd next = x_ + Ux_ * D.cwiseProduct(weighted);
            if (Uxy_.size() != 0) next -= Uxy_ * weighted;
            const double moved = (next - state.xi).cwiseAbs().maxCoeff();
            state.xi = next;
            if (moved <= 1e-14 * x_.cwiseAbs().maxCoeff()) break;
        }
        return std::optional<State>(std::move(state));
    }

    MatrixXd whitened_gradient(const State& state) const {
        MatrixXd J(x_.size(), static_cast<Index>(state.b.size()));
        for (Index i = 0; i < x_.size(); ++i) {
            const auto row = gradient_of(model_, state.xi(i), state.b);
            for (Index k = 0; k < J.cols(); ++k) J(i, k) = row[static_cast<std::size_t>(k)];
        }
        return state.factor.matrixL().solve(J);
    }

    VectorXd plain_residuals(const State& state) const {
        VectorXd residuals(x_.size());
        for (Index i = 0; i < x_.size(); ++i) residuals(i) = y_(i) - model_.value(state.xi(i), state.b);
        return residuals;
    }

private:
    const CurveModel& model_;
    VectorXd x_;
    VectorXd y_;
    MatrixXd Ux_;
    MatrixXd Uy_;
    MatrixXd Uxy_;
};

// The damped step: least squares of [J; sqrt(lambda) D] against [r; 0].
VectorXd damped_step(const MatrixXd& J, const VectorXd& r, const VectorXd& scale, double lambda) {
    MatrixXd stacked = MatrixXd::Zero(J.rows() + J.cols(), J.cols());
    stacked.topRows(J.rows()) = J;
    stacked.bottomRows(J.cols()).diagonal() = std::sqrt(lambda) * scale;
    VectorXd target = VectorXd::Zero(stacked.rows());
    target.head(r.size()) = r;
    return stacked.householderQr().solve(target);
}

Fault no_convergence(const std::string& what) {
    return Fault{FaultCode::no_convergence, what, "curve fit", "try another start or a simpler function"};
}

// Chi-squared is flat at its minimum: rounding hides steps below 1e-7 of an uncertainty from it. Undamped
// steps are taken from there while they keep getting shorter.
Result<State> polish(const Problem& problem, State state) {
    double last = std::numeric_limits<double>::infinity();
    for (int i = 0; i < 50; ++i) {
        const MatrixXd J = problem.whitened_gradient(state);
        if (!J.allFinite()) return state;
        const VectorXd step = J.householderQr().solve(state.residual);
        const double moved = (J * step).norm();
        if (!(moved < last)) return state;
        last = moved;
        std::vector<double> b = state.b;
        for (Index k = 0; k < step.size(); ++k) b[static_cast<std::size_t>(k)] += step(k);
        auto next = problem.evaluate(b, state.xi);
        if (!next) return next.fault();
        if (!*next || !((*next)->chi2 <= state.chi2 * (1 + 1e-9) + 1e-24)) return state;
        state = std::move(**next);
    }
    return state;
}

// Minimises chi-squared from `state` on.
Result<State> minimise(const Problem& problem, State state, int& iterations) {
    const auto p = static_cast<Index>(state.b.size());
    VectorXd scale = VectorXd::Zero(p);
    double lambda = 1e-3;
    for (iterations = 0; iterations < max_iterations; ++iterations) {
        const MatrixXd J = problem.whitened_gradient(state);
        if (!J.allFinite()) return no_convergence("the function's derivatives are not finite");
        // Scale of the parameters: the largest gradient met, as in MINPACK.
        scale = scale.cwiseMax(J.colwise().norm().transpose());
        for (Index k = 0; k < p; ++k) {
            if (!(scale(k) > 0)) {
                return Fault{FaultCode::bad_value, "this parameter has no effect on the function",
                             "parameter " + std::to_string(k + 1), "leave it out"};
            }
        }
        for (;;) {
            const VectorXd step = damped_step(J, state.residual, scale, lambda);
            std::vector<double> b = state.b;
            double relative = 0;
            for (Index k = 0; k < p; ++k) {
                b[static_cast<std::size_t>(k)] += step(k);
                relative = std::max(
                    relative, std::fabs(step(k)) / (std::fabs(b[static_cast<std::size_t>(k)]) + 1e-300));
            }
            // Settled when the step no longer moves the function, in units of what is left unexplained.
            const double moved = (J * step).norm();
            const double left = std::sqrt(state.chi2);
            const bool settled = moved <= 1e-12 * left || relative <= 1e-14;
            auto tried = problem.evaluate(b, state.xi);
            if (!tried) return tried.fault();
            if (*tried && (*tried)->chi2 < state.chi2) {
                const VectorXd model_rest = state.residual - J * step;
                const double predicted = state.chi2 - model_rest.squaredNorm();
                const double gain = predicted > 0 ? (state.chi2 - (*tried)->chi2) / predicted : 0;
                lambda = std::max(gain > 0.75 ? lambda / 10 : gain < 0.25 ? lambda * 4 : lambda, 1e-30);
                state = std::move(**tried);
                if (settled) return state;
                break;
            }
            // No better point in rounding: either the minimum or a step too long.
            if (settled || (moved <= 1e-7 * left && lambda <= 1e-12)) return state;
            lambda *= 10;
            if (!(lambda < 1e20))
                return moved <= 1e-6 * left ? Result<State>(state)
                                            : no_convergence("no step lowers chi-squared");
        }
    }
    return no_convergence("the fit did not settle within " + std::to_string(max_iterations) + " iterations");
}

}  // namespace

Result<FittedCurve> fit_curve(const CalibrationPoints& points, const CurveModel& model,
                              std::vector<double> start) {
    if (start.empty() || !model.value) {
        return Fault{FaultCode::bad_value, "the function has no parameters or no value", "curve fit", {}};
    }
    if (Outcome checked = check_points(points, start.size()); !checked) return checked.fault();
    const Problem problem(points, model);
    auto begun = problem.evaluate(start, problem.x());
    if (!begun) return begun.fault();
    if (!*begun) {
        return Fault{FaultCode::bad_value, "the function is not finite at the start", "curve fit",
                     "choose another start"};
    }
    FittedCurve fit;
    auto state = minimise(problem, std::move(**begun), fit.iterations);
    if (state) state = polish(problem, std::move(*state));
    if (!state) return state.fault();

    const auto p = static_cast<Index>(start.size());
    MatrixXd J = problem.whitened_gradient(*state);
    const VectorXd norm = J.colwise().norm().transpose();
    for (Index k = 0; k < p; ++k) J.col(k) /= norm(k);
    const Eigen::ColPivHouseholderQR<MatrixXd> qr(J);
    const MatrixXd R = qr.matrixR().topRows(p).triangularView<Eigen::Upper>();
    for (Index k = 0; k < p; ++k) {
        if (!(std::fabs(R(k, k)) > 1e-12 * std::fabs(R(0, 0)))) {
            return Fault{FaultCode::bad_value, "the points do not determine this parameter",
                         "parameter " + std::to_string(qr.colsPermutation().indices()(k) + 1),
                         "leave it out"};
        }
    }
    const MatrixXd half =
        norm.cwiseInverse().asDiagonal() *
        (qr.colsPermutation() * R.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(p, p)));
    const MatrixXd covariance = half * half.transpose();

    fit.model = model;
    fit.parameters = state->b;
    fit.covariance = SquareMatrix(start.size());
    for (Index i = 0; i < p; ++i) {
        for (Index j = 0; j < p; ++j) {
            fit.covariance(static_cast<std::size_t>(i), static_cast<std::size_t>(j)) = covariance(i, j);
        }
    }
    fit.chi2 = state->chi2;
    fit.dof = static_cast<double>(points.x.size() - start.size());
    fit.chi2_limit = fit.dof > 0 ? chi_squared_quantile(0.95, fit.dof) : 0;
    fit.consistent = fit.dof > 0 ? fit.chi2 <= fit.chi2_limit : true;
    fit.x_adjusted.assign(state->xi.begin(), state->xi.end());
    const VectorXd residuals = problem.plain_residuals(*state);
    fit.residuals.assign(residuals.begin(), residuals.end());
    return fit;
}

CurveModel power_law() {
    CurveModel model;
    model.value = [](double x, std::span<const double> b) { return b[0] * std::pow(x, b[1]); };
    model.gradient = [](double x, std::span<const double> b, std::span<double> gradient) {
        gradient[0] = std::pow(x, b[1]);
        gradient[1] = b[0] * gradient[0] * std::log(x);
    };
    model.slope = [](double x, std::span<const double> b) { return b[0] * b[1] * std::pow(x, b[1] - 1); };
    return model;
}

Result<FittedCurve> fit_power_law(const CalibrationPoints& points) {
    if (Outcome checked = check_points(points, 2); !checked) return checked.fault();
    CalibrationPoints logarithms;
    logarithms.cov_y = SquareMatrix(points.x.size());
    for (std::size_t i = 0; i < points.x.size(); ++i) {
        if (!(points.x[i] > 0 && points.y[i] > 0)) {
            return Fault{FaultCode::bad_value, "a power law needs x and y above zero",
                         "point " + std::to_string(i + 1), "leave the point out or choose another function"};
        }
        logarithms.x.push_back(std::log(points.x[i]));
        logarithms.y.push_back(std::log(points.y[i]));
        logarithms.cov_y(i, i) = 1;
    }
    const auto line = fit_polynomial(logarithms, 1);
    if (!line) return line.fault();
    return fit_curve(points, power_law(), {std::exp(line->coefficients[0]), line->coefficients[1]});
}

Uncertain evaluate(const FittedCurve& fit, const Uncertain& x) {
    const auto gradient = gradient_of(fit.model, x.value, fit.parameters);
    double from_fit = 0;
    for (std::size_t i = 0; i < gradient.size(); ++i) {
        for (std::size_t j = 0; j < gradient.size(); ++j)
            from_fit += gradient[i] * gradient[j] * fit.covariance(i, j);
    }
    from_fit = std::max(from_fit, 0.0);
    const double by_x = slope_of(fit.model, x.value, fit.parameters) * x.u;
    const double variance = from_fit + by_x * by_x;
    const double fourth = from_fit * from_fit / fit.parameter_dof + by_x * by_x * by_x * by_x / x.dof;
    return {fit.model.value(x.value, fit.parameters), std::sqrt(variance),
            fourth > 0 ? variance * variance / fourth : infinite_dof};
}

FittedCurve with_scale(FittedCurve fit, const UnknownScale& scale) {
    for (double& value : fit.covariance.values) value *= scale.sigma * scale.sigma;
    fit.parameter_dof = scale.dof;
    return fit;
}

}  // namespace tipwright::calib
