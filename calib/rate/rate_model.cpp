#include "calib/rate/rate_model.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include <Eigen/Dense>

#include "calib/base/rounding.hpp"
#include "calib/statistics/distributions.hpp"
#include "calib/statistics/median.hpp"
#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

namespace {

// Flow and volume of a step with the sensitivities of both to every component of its budget.
struct Point {
    double flow_mL_s = 0;
    double volume_mL = 0;
    const StepResult* step = nullptr;
};

std::vector<Point> ascending_points(const std::vector<StepResult>& steps) {
    std::vector<Point> points;
    for (const auto& step : steps) {
        points.push_back({step.flow_mL_min->value / 60, step.volume_per_tip_mL.value, &step});
    }
    std::stable_sort(points.begin(), points.end(),
                     [](const Point& a, const Point& b) { return a.flow_mL_s < b.flow_mL_s; });
    return points;
}

// Adds scale_i scale_j s_i s_j u^2 for every component the two steps share (all of them when i = j).
template <class First, class Second>
double relative_covariance(const StepResult& a, const StepResult& b, First first, Second second) {
    double sum = 0;
    if (&a == &b) {
        for (const auto& component : a.budget)
            sum += first(component) * second(component) * component.u * component.u;
        return sum;
    }
    for (const auto& component : a.budget) {
        if (!component.shared) continue;
        const auto twin = std::find_if(b.budget.begin(), b.budget.end(),
                                       [&](const auto& other) { return other.id == component.id; });
        if (twin != b.budget.end()) sum += first(component) * second(*twin) * component.u * twin->u;
    }
    return sum;
}

double of_v(const BudgetComponent& component) {
    return component.relative_to_v();
}
double of_Q(const BudgetComponent& component) {
    return component.relative_to_Q();
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
            const auto& a = *points[i].step;
            const auto& b = *points[j].step;
            const double q = logarithmic ? 1 : points[i].flow_mL_s;
            const double v = logarithmic ? 1 : points[i].volume_mL;
            const double q_j = logarithmic ? 1 : points[j].flow_mL_s;
            const double v_j = logarithmic ? 1 : points[j].volume_mL;
            result.cov_x(i, j) = q * q_j * relative_covariance(a, b, of_Q, of_Q);
            result.cov_y(i, j) = v * v_j * relative_covariance(a, b, of_v, of_v);
            result.cov_xy(i, j) = q * v_j * relative_covariance(a, b, of_Q, of_v);
        }
    }
    return result;
}

// Degrees of freedom of each parameter: Welch-Satterthwaite over the components of all steps, through
// the linearised estimator p = G r, r_i = dy_i - f'(x_i) dx_i.
std::vector<double> parameter_dof(const std::vector<Point>& points, const CalibrationPoints& data,
                                  const FittedPolynomial& fit, bool logarithmic) {
    const auto n = static_cast<Eigen::Index>(points.size());
    const auto p = static_cast<Eigen::Index>(fit.coefficients.size());
    Eigen::MatrixXd design(n, p);
    Eigen::VectorXd slope = Eigen::VectorXd::Zero(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const double x = data.x[static_cast<std::size_t>(i)];
        for (Eigen::Index k = 0; k < p; ++k) design(i, k) = std::pow(x, static_cast<double>(k));
        for (Eigen::Index k = 1; k < p; ++k)
            slope(i) +=
                static_cast<double>(k) * fit.coefficients[static_cast<std::size_t>(k)] * design(i, k - 1);
    }
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
    const Eigen::MatrixXd estimator = (design.transpose() * weighted).ldlt().solve(weighted.transpose());

    std::vector<double> result;
    for (Eigen::Index k = 0; k < p; ++k) {
        double variance = 0;
        double fourth = 0;
        std::map<std::string, std::pair<double, double>> shared;  // id -> contribution, dof
        for (Eigen::Index i = 0; i < n; ++i) {
            const Point& point = points[static_cast<std::size_t>(i)];
            const double q = logarithmic ? 1 : point.flow_mL_s;
            const double v = logarithmic ? 1 : point.volume_mL;
            for (const auto& component : point.step->budget) {
                const double contribution =
                    estimator(k, i) * (v * of_v(component) - slope(i) * q * of_Q(component)) * component.u;
                if (component.shared) {
                    auto& entry = shared[component.id];
                    entry.first += contribution;
                    entry.second = component.dof;
                } else {
                    variance += contribution * contribution;
                    if (std::isfinite(component.dof)) fourth += std::pow(contribution, 4) / component.dof;
                }
            }
        }
        for (const auto& [id, entry] : shared) {
            variance += entry.first * entry.first;
            if (std::isfinite(entry.second)) fourth += std::pow(entry.first, 4) / entry.second;
        }
        result.push_back(fourth > 0 ? variance * variance / fourth : infinite_dof);
    }
    return result;
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

Result<RateCandidate> fit_candidate(RateForm form, const std::vector<Point>& points) {
    const bool logarithmic = form == RateForm::power;
    const CalibrationPoints data = calibration_points(points, logarithmic);
    auto fit = fit_polynomial(data, degree_of(form));
    if (!fit) return fit.fault();

    RateCandidate candidate;
    candidate.form = form;
    candidate.chi2 = fit->chi2;
    candidate.dof = fit->dof;
    candidate.chi2_limit = fit->chi2_limit;
    candidate.passes = fit->dof < 0.5 || fit->consistent;
    const auto dof = parameter_dof(points, data, *fit, logarithmic);
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
    return candidate;
}

constexpr double clearly_rejected = 0.999;

// The simpler form was rejected at 95 %, as one true form in twenty is: its parameters lie that far from
// those chosen, and those it does not have are 0 in it.
void add_doubt_of_simpler(std::vector<RateCandidate>& candidates, RateForm chosen) {
    if (chosen != RateForm::line && chosen != RateForm::curve) return;
    const RateForm wanted = chosen == RateForm::line ? RateForm::constant : RateForm::line;
    const RateCandidate* simpler = nullptr;
    for (RateCandidate& candidate : candidates) {
        if (candidate.form == wanted) simpler = &candidate;
        if (candidate.form != chosen || simpler == nullptr || simpler->dof < 0.5 ||
            simpler->chi2 > chi_squared_quantile(clearly_rejected, simpler->dof))
            continue;
        for (std::size_t k = 0; k < candidate.parameters.size(); ++k) {
            Uncertain& parameter = candidate.parameters[k];
            const double there = k < simpler->parameters.size() ? simpler->parameters[k].value : 0;
            parameter.u = std::hypot(parameter.u, parameter.value - there);
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

std::string reason_for(const RateModel& model) {
    const RateCandidate* chosen = model.chosen_candidate();
    if (chosen == nullptr) {
        return "no candidate agrees with the points within their uncertainties (chi-squared test, 95 %); the "
               "points themselves stand, with monotone interpolation between them, and no uncertainty was "
               "widened to make a candidate pass";
    }
    if (chosen->dof < 0.5) {
        return "as many parameters as points: the " + name_of(chosen->form) + " could not be tested";
    }
    return "simplest candidate that agrees with the points: chi-squared " + fixed(chosen->chi2, 2) +
           " does not exceed " + fixed(chosen->chi2_limit, 2) + " (95 % quantile, " + fixed(chosen->dof, 0) +
           " degrees of freedom)";
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

    model.chosen = RateForm::table;
    for (const RateForm form : {RateForm::constant, RateForm::line, RateForm::curve, RateForm::power}) {
        if (points.size() < static_cast<std::size_t>(degree_of(form)) + 1) continue;
        auto candidate = fit_candidate(form, points);
        if (!candidate) {
            // Only the simplest must be solvable; a richer form that cannot be is simply no candidate.
            if (form == RateForm::constant) return candidate.fault();
            continue;
        }
        const bool first_to_pass = candidate->passes && model.chosen == RateForm::table;
        if (first_to_pass) model.chosen = form;
        model.candidates.push_back(*candidate);
    }
    add_doubt_of_simpler(model.candidates, model.chosen);
    model.reason = reason_for(model);
    return model;
}

}  // namespace tipwright::calib
