#include "calib/rate/rate_candidate.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include <Eigen/Dense>

#include "calib/base/rounding.hpp"
#include "calib/statistics/contributions.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

namespace {

// A form passes at it.
constexpr double test_confidence = 0.95;

std::string own_name(const StepResult& step, const BudgetComponent& component) {
    return component.cause.empty() ? step.observation.name() + ": " + component.id : component.cause;
}

struct RelativeCovariance {
    double v_v = 0;
    double Q_Q = 0;
    double Q_v = 0;  // Q of the first with v of the second
};

RelativeCovariance relative_covariance(const StepPoint& a, const StepPoint& b) {
    RelativeCovariance sum;
    auto from = b.parts.begin();
    for (const StepPart& part : a.parts) {
        while (from != b.parts.end() && from->cause < part.cause) ++from;
        for (auto other = from; other != b.parts.end() && other->cause == part.cause; ++other) {
            const double alike = likeness(part.at, other->at);
            sum.v_v += part.v * other->v * alike;
            sum.Q_Q += part.Q * other->Q * alike;
            sum.Q_v += part.Q * other->v * alike;
        }
    }
    return sum;
}

// logarithmic: points are ln Q, ln v and their covariances relative ones.
CalibrationPoints calibration_points(const std::vector<StepPoint>& points, bool logarithmic) {
    const std::size_t n = points.size();
    CalibrationPoints result;
    result.cov_x = SquareMatrix(n);
    result.cov_y = SquareMatrix(n);
    result.cov_xy = SquareMatrix(n);
    for (std::size_t i = 0; i < n; ++i) {
        result.x.push_back(logarithmic ? std::log(points[i].flow_mL_s) : points[i].flow_mL_s);
        result.y.push_back(logarithmic ? std::log(points[i].volume_mL) : points[i].volume_mL);
        for (std::size_t j = 0; j < n; ++j) {
            const RelativeCovariance relative = relative_covariance(points[i], points[j]);
            const double q = logarithmic ? 1 : points[i].flow_mL_s;
            const double v = logarithmic ? 1 : points[i].volume_mL;
            const double q_j = logarithmic ? 1 : points[j].flow_mL_s;
            const double v_j = logarithmic ? 1 : points[j].volume_mL;
            result.cov_x(i, j) = q * q_j * relative.Q_Q;
            result.cov_y(i, j) = v * v_j * relative.v_v;
            result.cov_xy(i, j) = q * v_j * relative.Q_v;
        }
    }
    return result;
}

// The fit linearised at its solution: p = G r, r_i = dy_i - f'(x_i) dx_i.
struct Linearised {
    Eigen::MatrixXd estimator;  // G
    Eigen::VectorXd slope;
    Eigen::VectorXd variance;  // of r
    Eigen::VectorXd leverage;
    bool logarithmic = false;

    // One component's share of r_i.
    double of_residual(const StepPoint& point, const StepPart& part, Eigen::Index i) const {
        const double q = logarithmic ? 1 : point.flow_mL_s;
        const double v = logarithmic ? 1 : point.volume_mL;
        return v * part.v - slope(i) * q * part.Q;
    }
};

Linearised linearised(const CalibrationPoints& data, const FittedPolynomial& fit, bool logarithmic) {
    const auto n = static_cast<Eigen::Index>(data.x.size());
    const auto p = static_cast<Eigen::Index>(fit.coefficients.size());
    Linearised result;
    result.logarithmic = logarithmic;
    Eigen::MatrixXd design(n, p);
    result.slope = Eigen::VectorXd::Zero(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const double x = data.x[static_cast<std::size_t>(i)];
        for (Eigen::Index k = 0; k < p; ++k) design(i, k) = std::pow(x, static_cast<double>(k));
        for (Eigen::Index k = 1; k < p; ++k)
            result.slope(i) +=
                static_cast<double>(k) * fit.coefficients[static_cast<std::size_t>(k)] * design(i, k - 1);
    }
    const auto& slope = result.slope;
    Eigen::MatrixXd residual_covariance(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
        for (Eigen::Index j = 0; j < n; ++j) {
            const auto a = static_cast<std::size_t>(i);
            const auto b = static_cast<std::size_t>(j);
            residual_covariance(i, j) = data.cov_y(a, b) - slope(i) * data.cov_xy(a, b) -
                                        slope(j) * data.cov_xy(b, a) + slope(i) * slope(j) * data.cov_x(a, b);
        }
    }
    const Eigen::LDLT<Eigen::MatrixXd> factor(residual_covariance);
    const Eigen::MatrixXd weighted = factor.solve(design);  // U^-1 X
    result.estimator = (design.transpose() * weighted).ldlt().solve(weighted.transpose());
    result.variance = residual_covariance.diagonal();
    result.leverage = (design * result.estimator).diagonal();
    return result;
}

// Degrees of freedom of each parameter, through the linearised estimator.
std::vector<double> parameter_dof(const std::vector<StepPoint>& points, const Linearised& fit) {
    std::vector<double> result;
    for (Eigen::Index k = 0; k < fit.estimator.rows(); ++k) {
        Contributions parts;
        for (std::size_t i = 0; i < points.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            for (const StepPart& part : points[i].parts) {
                const double size = fit.estimator(k, row) * fit.of_residual(points[i], part, row);
                if (size == 0) continue;
                parts.push_back({std::to_string(part.cause), part.component->estimate, size,
                                 part.component->dof, part.at});
            }
        }
        result.push_back(combined(0, parts).dof);
    }
    return result;
}

// The observed chi-squared over its degrees of freedom follows divisor times F(dof, dof_below) where the
// variances are estimates. Separate estimates for the points: Welch, Biometrika 38 (1951) 330, with the
// leverage of a point in the place of its share of the weights; one estimate for several points: F itself.
// Both, and points with other variance beside: by Satterthwaite (own approximation, checked by simulation in
// tests/calib/rate/joint_covariance_test.cpp).
struct TestScale {
    double divisor = 1;
    double dof_below = infinite_dof;
};

TestScale test_scale(const std::vector<StepPoint>& points, const Linearised& fit, double dof) {
    if (!(dof > 0.5)) return {};
    double separate = 0;
    std::map<std::string, std::pair<double, double>> common;  // estimate -> share of chi-squared, dof
    for (std::size_t i = 0; i < points.size(); ++i) {
        const auto row = static_cast<Eigen::Index>(i);
        const double free = std::clamp(1 - fit.leverage(row), 0.0, 1.0);
        for (const StepPart& part : points[i].parts) {
            if (!std::isfinite(part.component->dof) || !part.component->cause.empty()) continue;
            const double size = fit.of_residual(points[i], part, row);
            const double share = std::min(1.0, size * size / fit.variance(row));
            if (part.component->estimate.empty()) {
                separate += std::pow(free * share, 2) / part.component->dof;
            } else {
                auto& [sum, its_dof] =
                    common.try_emplace(part.component->estimate, 0, infinite_dof).first->second;
                sum += free * share / dof;
                its_dof = std::min(its_dof, part.component->dof);
            }
        }
    }
    const double groups = dof + 1;
    double below = 3 * separate / (groups * groups - 1);
    for (const auto& [name, entry] : common) below += entry.first * entry.first / entry.second;
    return {1 + 2 * (groups - 2) / (groups * groups - 1) * separate, below > 0 ? 1 / below : infinite_dof};
}

std::string with_uncertainty(const Uncertain& parameter) {
    return round_with_uncertainty(parameter.value, expanded(parameter).U).value;
}

}  // namespace

std::vector<StepPoint> ascending_points(const std::vector<StepResult>& steps) {
    std::vector<StepPoint> points;
    std::map<std::string, int> causes;
    for (const auto& step : steps) {
        StepPoint point{step.flow_mL_min->value / 60, step.volume_per_tip_mL.value, &step, {}};
        for (const auto& component : step.budget) {
            const int cause =
                causes.try_emplace(own_name(step, component), static_cast<int>(causes.size())).first->second;
            point.parts.push_back({cause, component.at, component.relative_to_v() * component.u,
                                   component.relative_to_Q() * component.u, &component});
        }
        std::sort(point.parts.begin(), point.parts.end(),
                  [](const StepPart& a, const StepPart& b) { return a.cause < b.cause; });
        points.push_back(std::move(point));
    }
    std::stable_sort(points.begin(), points.end(),
                     [](const StepPoint& a, const StepPoint& b) { return a.flow_mL_s < b.flow_mL_s; });
    return points;
}

std::string expression_of(const RateCandidate& candidate) {
    const auto& p = candidate.parameters;
    switch (candidate.form) {
        case RateForm::constant:
            return "v = " + with_uncertainty(p[0]) + " mL";
        case RateForm::line:
            return "v = " + with_uncertainty(p[0]) + " mL + " + with_uncertainty(p[1]) + " s · Q";
        case RateForm::curve:
            return "v = " + with_uncertainty(p[0]) + " mL + " + with_uncertainty(p[1]) + " s · Q + " +
                   with_uncertainty(p[2]) + " s²/mL · Q²";
        case RateForm::power:
            return "v = " + with_uncertainty(p[0]) + " mL · (Q / 1 mL/s)^" + with_uncertainty(p[1]);
        case RateForm::table:
            break;
    }
    return "v by monotone interpolation between the points";
}

int degree_of(RateForm form) {
    switch (form) {
        case RateForm::constant:
            return 0;
        case RateForm::line:
        case RateForm::power:
            return 1;
        case RateForm::curve:
        case RateForm::table:
            return 2;
    }
    return 0;
}

Result<TestedForm> fit_candidate(RateForm form, const std::vector<StepPoint>& points) {
    const bool logarithmic = form == RateForm::power;
    const CalibrationPoints data = calibration_points(points, logarithmic);
    auto fit = fit_polynomial(data, degree_of(form));
    if (!fit) return fit.fault();

    RateCandidate candidate;
    candidate.form = form;
    candidate.chi2 = fit->chi2;
    candidate.dof = fit->dof;
    const Linearised linear = linearised(data, *fit, logarithmic);
    double probability = 1;
    if (fit->dof > 0.5) {
        const TestScale scale = test_scale(points, linear, fit->dof);
        candidate.chi2_limit =
            fit->dof * scale.divisor * fisher_quantile(test_confidence, fit->dof, scale.dof_below);
        probability = 1 - fisher_cumulative(fit->chi2 / fit->dof / scale.divisor, fit->dof, scale.dof_below);
    }
    candidate.passes = fit->dof < 0.5 || fit->chi2 <= candidate.chi2_limit;
    const auto dof = parameter_dof(points, linear);
    const std::size_t count = fit->coefficients.size();
    // A power law is fitted as ln v = ln alpha + beta ln Q; alpha follows with d alpha = alpha d ln alpha.
    std::vector<double> scale(count, 1.0);
    for (std::size_t k = 0; k < count; ++k) {
        double value = fit->coefficients[k];
        if (logarithmic && k == 0) {
            value = std::exp(value);
            scale[k] = value;
        }
        candidate.parameters.push_back({value, scale[k] * std::sqrt(fit->covariance(k, k)), dof[k]});
    }
    for (std::size_t k = 0; k < count; ++k) {
        candidate.covariance.emplace_back();
        for (std::size_t l = 0; l < count; ++l) {
            candidate.covariance.back().push_back(scale[k] * scale[l] * fit->covariance(k, l));
        }
    }
    // Reported for the flow as measured, in the plan's order of steps by the caller.
    for (const auto& point : points) {
        const double fitted = candidate.volume_at(point.flow_mL_s).value;
        candidate.residual_percent.push_back(100 * (point.volume_mL - fitted) / point.volume_mL);
    }
    candidate.expression = expression_of(candidate);
    return TestedForm{std::move(candidate), probability};
}

}  // namespace tipwright::calib
