#include "calib/rate/rate_model.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include <Eigen/Dense>

#include "calib/base/rounding.hpp"
#include "calib/statistics/contributions.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/median.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

namespace {

// A form passes at 95 %. One true form in twenty does not, and with it goes the formula: so where none
// passes, the simplest that is not clearly rejected stands, with u widened to what the points scatter about
// it (Birge ratio). Only beyond that do the points themselves stand.
constexpr double test_confidence = 0.95;
constexpr double clearly_rejected = 0.001;

// What a component contributes to a step, in units of its uncertainty: relative to v and to Q.
struct Part {
    int cause = 0;
    double at = 0;
    double v = 0;
    double Q = 0;
    const BudgetComponent* component = nullptr;
};

struct Point {
    double flow_mL_s = 0;
    double volume_mL = 0;
    const StepResult* step = nullptr;
    std::vector<Part> parts;  // by cause; a cause of its own for what is new in the step
};

std::string own_name(const StepResult& step, const BudgetComponent& component) {
    return component.cause.empty() ? "step " + std::to_string(step.observation.step) + ": " + component.id
                                   : component.cause;
}

std::vector<Point> ascending_points(const std::vector<StepResult>& steps) {
    std::vector<Point> points;
    std::map<std::string, int> causes;
    for (const auto& step : steps) {
        Point point{step.flow_mL_min->value / 60, step.volume_per_tip_mL.value, &step, {}};
        for (const auto& component : step.budget) {
            const int cause =
                causes.try_emplace(own_name(step, component), static_cast<int>(causes.size())).first->second;
            point.parts.push_back({cause, component.at, component.relative_to_v() * component.u,
                                   component.relative_to_Q() * component.u, &component});
        }
        std::sort(point.parts.begin(), point.parts.end(),
                  [](const Part& a, const Part& b) { return a.cause < b.cause; });
        points.push_back(std::move(point));
    }
    std::stable_sort(points.begin(), points.end(),
                     [](const Point& a, const Point& b) { return a.flow_mL_s < b.flow_mL_s; });
    return points;
}

struct RelativeCovariance {
    double v_v = 0;
    double Q_Q = 0;
    double Q_v = 0;  // Q of the first with v of the second
};

RelativeCovariance relative_covariance(const Point& a, const Point& b) {
    RelativeCovariance sum;
    auto from = b.parts.begin();
    for (const Part& part : a.parts) {
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
CalibrationPoints calibration_points(const std::vector<Point>& points, bool logarithmic) {
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
    double of_residual(const Point& point, const Part& part, Eigen::Index i) const {
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
std::vector<double> parameter_dof(const std::vector<Point>& points, const Linearised& fit) {
    std::vector<double> result;
    for (Eigen::Index k = 0; k < fit.estimator.rows(); ++k) {
        Contributions parts;
        for (std::size_t i = 0; i < points.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            for (const Part& part : points[i].parts) {
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

TestScale test_scale(const std::vector<Point>& points, const Linearised& fit, double dof) {
    if (!(dof > 0.5)) return {};
    double separate = 0;
    std::map<std::string, std::pair<double, double>> common;  // estimate -> share of chi-squared, dof
    for (std::size_t i = 0; i < points.size(); ++i) {
        const auto row = static_cast<Eigen::Index>(i);
        const double free = std::clamp(1 - fit.leverage(row), 0.0, 1.0);
        for (const Part& part : points[i].parts) {
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

// A fit with what its test says: the probability that a true form lies at least as far from the points.
struct Tested {
    RateCandidate candidate;
    double probability = 1;
};

Result<Tested> fit_candidate(RateForm form, const std::vector<Point>& points) {
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
    return Tested{std::move(candidate), probability};
}

// covariance and every u alike; keeps them in agreement.
void widen(RateCandidate& candidate, double factor) {
    for (Uncertain& parameter : candidate.parameters) parameter.u *= factor;
    for (auto& row : candidate.covariance)
        for (double& value : row) value *= factor * factor;
    candidate.expression = expression_of(candidate);
}

// The simpler form was rejected at 95 %, as one true form in twenty is: its parameters lie that far from
// those chosen, and those it does not have are 0 in it.
void add_doubt_of_simpler(std::vector<Tested>& tested, RateForm chosen) {
    if (chosen != RateForm::line && chosen != RateForm::curve) return;
    const RateForm wanted = chosen == RateForm::line ? RateForm::constant : RateForm::line;
    const Tested* simpler = nullptr;
    for (Tested& one : tested) {
        RateCandidate& candidate = one.candidate;
        if (candidate.form == wanted) simpler = &one;
        if (candidate.form != chosen || simpler == nullptr || simpler->candidate.dof < 0.5 ||
            simpler->probability < clearly_rejected)
            continue;
        const auto& there = simpler->candidate.parameters;
        std::vector<double> apart;
        for (std::size_t k = 0; k < candidate.parameters.size(); ++k)
            apart.push_back(candidate.parameters[k].value - (k < there.size() ? there[k].value : 0));
        for (std::size_t k = 0; k < apart.size(); ++k) {
            candidate.parameters[k].u = std::hypot(candidate.parameters[k].u, apart[k]);
            for (std::size_t l = 0; l < apart.size(); ++l) candidate.covariance[k][l] += apart[k] * apart[l];
        }
        candidate.expression = expression_of(candidate);
    }
}

// No gauge's volume per tip changes so much with the rate (a dead compartment doubles it, and is named by the
// tips): a wrong mass, count or unit. Common practice, no source.
constexpr double wild_factor = 2.5;

std::optional<Fault> wild_point(const std::vector<Point>& points) {
    if (points.size() < 3) return std::nullopt;
    std::vector<double> volumes;
    for (const auto& point : points) volumes.push_back(point.volume_mL);
    const double ordinary_mL = median(std::move(volumes));
    for (const auto& point : points) {
        const double ratio = point.volume_mL / ordinary_mL;
        if (ratio <= wild_factor && ratio >= 1 / wild_factor) continue;
        return Fault{FaultCode::inconsistent,
                     "its volume per tip, " + fixed(point.volume_mL, 3) + " mL, is " + fixed(ratio, 2) +
                         " times that of the other steps",
                     "step " + std::to_string(point.step->observation.step),
                     "check mass, tips and unit of this step, or leave it out"};
    }
    return std::nullopt;
}

double widening(const RateCandidate& candidate) {
    return std::max(1.0, std::sqrt(candidate.chi2 / candidate.dof));
}

// Two rates do not say that the volume is the same at every other one: no constant from them, and nothing
// with a bend.
RateForm simplest(const std::vector<Tested>& tested, int rates) {
    const auto possible = [&](RateForm form) { return rates > 2 || form == RateForm::line; };
    for (const Tested& one : tested)
        if (possible(one.candidate.form) && one.candidate.passes) return one.candidate.form;
    for (const Tested& one : tested)
        if (possible(one.candidate.form) && one.probability >= clearly_rejected) return one.candidate.form;
    return RateForm::table;
}

std::string reason_for(const RateModel& model) {
    const RateCandidate* chosen = model.chosen_candidate();
    if (chosen == nullptr) {
        return "every candidate is clearly rejected by the points and their uncertainties (F test, 99.9 %); "
               "the "
               "points themselves stand, with monotone interpolation between them, and no uncertainty was "
               "widened to make a candidate pass";
    }
    if (chosen->dof < 0.5) {
        return "as many parameters as points: the " + name_of(chosen->form) + " could not be tested";
    }
    if (model.rates() < 3 && chosen->passes)
        return "two rates say how the volume changes from one to the other, not along which curve: a "
               "straight "
               "line between them, with what a bent one could make of it as part of u";
    if (!chosen->passes)
        return "no candidate agrees with the points at 95 %, and the " + name_of(chosen->form) +
               " is the simplest that is not clearly rejected (F test, 99.9 %): it stands with its "
               "uncertainty "
               "widened by " +
               fixed(widening(*chosen), 2) + ", the root of chi-squared over its degrees of freedom";
    return "simplest candidate that agrees with the points: chi-squared " + fixed(chosen->chi2, 2) +
           " does not exceed " + fixed(chosen->chi2_limit, 2) + " (95 % quantile, " + fixed(chosen->dof, 0) +
           " degrees of freedom, variances as estimated)";
}

}  // namespace

std::string name_of(RateForm form) {
    switch (form) {
        case RateForm::constant:
            return "constant";
        case RateForm::line:
            return "line";
        case RateForm::curve:
            return "curve";
        case RateForm::power:
            return "power";
        case RateForm::table:
            return "table";
    }
    return "table";
}

std::vector<ParameterName> parameter_names(RateForm form) {
    switch (form) {
        case RateForm::constant:
            return {{"V0", "mL"}};
        case RateForm::line:
            return {{"V0", "mL"}, {"τ", "s"}};
        case RateForm::curve:
            return {{"V0", "mL"}, {"τ", "s"}, {"c", "s²/mL"}};
        case RateForm::power:
            return {{"α", "mL"}, {"β", "1"}};
        case RateForm::table:
            break;
    }
    return {};
}

Result<RateModel> fit_rate_model(const std::vector<StepResult>& steps) {
    if (steps.empty()) return Fault{FaultCode::too_few_points, "no steps to fit", "rate model", ""};
    for (const auto& step : steps) {
        if (!step.flow_mL_min) {
            return Fault{FaultCode::too_few_points,
                         "step " + std::to_string(step.observation.step) + " has no duration, so no flow",
                         "rate model", "give the duration or the time of each tip"};
        }
    }
    const std::vector<Point> points = ascending_points(steps);
    if (auto wild = wild_point(points)) return *wild;
    RateModel model;
    model.flow_min_mL_s = points.front().flow_mL_s;
    model.flow_max_mL_s = points.back().flow_mL_s;
    for (const auto& point : points) model.points.push_back({point.flow_mL_s, point.step->volume_per_tip_mL});

    std::vector<Tested> tested;
    for (const RateForm form : {RateForm::constant, RateForm::line, RateForm::curve, RateForm::power}) {
        if (points.size() < static_cast<std::size_t>(degree_of(form)) + 1) continue;
        auto one = fit_candidate(form, points);
        if (!one) {
            // Only the simplest must be solvable; a richer form that cannot be is simply no candidate.
            if (form == RateForm::constant) return one.fault();
            continue;
        }
        tested.push_back(std::move(*one));
    }
    model.chosen = simplest(tested, model.rates());
    for (Tested& one : tested)
        if (one.candidate.form == model.chosen && !one.candidate.passes)
            widen(one.candidate, widening(one.candidate));
    add_doubt_of_simpler(tested, model.chosen);
    for (Tested& one : tested) model.candidates.push_back(std::move(one.candidate));
    model.reason = reason_for(model);
    return model;
}

}  // namespace tipwright::calib
