#include "calib/rate_model.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/Dense>

#include "calib/distributions.hpp"
#include "calib/monotone.hpp"
#include "calib/regression.hpp"
#include "calib/rounding.hpp"

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

double polynomial(const std::vector<Uncertain>& coefficients, double x) {
    double value = 0;
    for (auto c = coefficients.rbegin(); c != coefficients.rend(); ++c) value = value * x + c->value;
    return value;
}

double polynomial_slope(const std::vector<Uncertain>& coefficients, double x) {
    double value = 0;
    for (std::size_t k = coefficients.size(); k-- > 1;) {
        value = value * x + static_cast<double>(k) * coefficients[k].value;
    }
    return value;
}

// Degrees of freedom of each parameter: Welch-Satterthwaite over the components of all steps, through
// the linearised estimator p = G r, r_i = dy_i - f'(x_i) dx_i.
std::vector<double> parameter_dof(const std::vector<Point>& points, const CalibrationPoints& data,
                                  const FittedPolynomial& fit, bool logarithmic) {
    const auto n = static_cast<Eigen::Index>(points.size());
    const auto p = static_cast<Eigen::Index>(fit.coefficients.size());
    std::vector<Uncertain> coefficients;
    for (double c : fit.coefficients) coefficients.push_back({c});
    Eigen::MatrixXd design(n, p);
    Eigen::VectorXd slope(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const double x = data.x[static_cast<std::size_t>(i)];
        slope(i) = polynomial_slope(coefficients, x);
        for (Eigen::Index k = 0; k < p; ++k) design(i, k) = std::pow(x, static_cast<double>(k));
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
        const double fitted = logarithmic ? candidate.parameters[0].value *
                                                std::pow(point.flow_mL_s, candidate.parameters[1].value)
                                          : polynomial(candidate.parameters, point.flow_mL_s);
        candidate.residual_percent.push_back(100 * (point.volume_mL - fitted) / point.volume_mL);
    }
    candidate.expression = expression_of(candidate);
    return candidate;
}

Uncertain volume_of(const RateCandidate& candidate, double flow_mL_s) {
    const auto& p = candidate.parameters;
    std::vector<double> gradient;
    double value = 0;
    if (candidate.form == RateForm::power) {
        const double power = std::pow(flow_mL_s, p[1].value);
        value = p[0].value * power;
        gradient = {power, value * std::log(flow_mL_s)};
    } else {
        value = polynomial(p, flow_mL_s);
        for (std::size_t k = 0; k < p.size(); ++k)
            gradient.push_back(std::pow(flow_mL_s, static_cast<double>(k)));
    }
    double variance = 0;
    double dof = infinite_dof;
    for (std::size_t k = 0; k < p.size(); ++k) {
        dof = std::min(dof, p[k].dof);
        for (std::size_t l = 0; l < p.size(); ++l)
            variance += gradient[k] * gradient[l] * candidate.covariance[k][l];
    }
    return {value, std::sqrt(std::max(0.0, variance)), dof};
}

// A form that passed its test need not be the true one: few points with their uncertainties cannot tell a
// slight bend from a straight line.
const RateCandidate* next_richer(const RateModel& model) {
    if (model.chosen != RateForm::constant && model.chosen != RateForm::line) return nullptr;
    const RateForm wanted = model.chosen == RateForm::constant ? RateForm::line : RateForm::curve;
    for (const auto& candidate : model.candidates) {
        if (candidate.form == wanted && candidate.dof > 0.5) return &candidate;
    }
    return nullptr;
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

// The variance about the chosen form's value when it and the next richer one are true with probabilities as
// their likelihoods (model averaging: Hoeting et al. 1999, Statist. Sci. 14, 382-417, from memory).
double variance_of_both(const RateCandidate& chosen, const Uncertain& value, const RateCandidate& richer,
                        const Uncertain& other) {
    const double odds = std::exp((chosen.chi2 - richer.chi2) / 2);
    const double share = odds / (1 + odds);
    const double apart = other.value - value.value;
    return (1 - share) * value.u * value.u +
           share * (std::max(value.u * value.u, other.u * other.u) + apart * apart);
}

// Points at one flow are joined to their mean: a curve has one value there.
MonotoneCurve curve_through(const std::vector<RatePoint>& points) {
    std::vector<double> flow;
    std::vector<double> volume;
    int joined = 0;
    for (const RatePoint& point : points) {
        if (!flow.empty() && !(point.flow_mL_s > flow.back())) {
            ++joined;
            volume.back() += (point.volume_mL.value - volume.back()) / joined;
            continue;
        }
        flow.push_back(point.flow_mL_s);
        volume.push_back(point.volume_mL.value);
        joined = 1;
    }
    return {std::move(flow), std::move(volume)};
}

// No gauge's volume per tip changes so much with the rate (a dead compartment doubles it, and is named by the
// tips): a wrong mass, count or unit. Common practice, no source.
constexpr double wild_factor = 2.5;

std::optional<Fault> wild_point(const std::vector<Point>& points) {
    if (points.size() < 3) return std::nullopt;
    std::vector<double> volumes;
    for (const auto& point : points) volumes.push_back(point.volume_mL);
    const auto middle = volumes.begin() + static_cast<std::ptrdiff_t>(volumes.size() / 2);
    std::nth_element(volumes.begin(), middle, volumes.end());
    for (const auto& point : points) {
        const double ratio = point.volume_mL / *middle;
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

const RateCandidate* RateModel::chosen_candidate() const {
    const auto found =
        std::find_if(candidates.begin(), candidates.end(),
                     [this](const RateCandidate& candidate) { return candidate.form == chosen; });
    return found == candidates.end() ? nullptr : &*found;
}

Uncertain RateModel::volume_at(double flow_mL_s) const {
    const RateCandidate* candidate = chosen_candidate();
    if (candidate == nullptr) {
        if (points.empty()) return {};
        if (flow_mL_s <= points.front().flow_mL_s) return points.front().volume_mL;
        if (flow_mL_s >= points.back().flow_mL_s) return points.back().volume_mL;
        const auto upper =
            std::upper_bound(points.begin(), points.end(), flow_mL_s,
                             [](double flow, const RatePoint& point) { return flow < point.flow_mL_s; });
        const RatePoint& b = *upper;
        const RatePoint& a = *(upper - 1);
        const MonotoneCurve curve = curve_through(points);
        const double value = curve.value(flow_mL_s);
        // What curve lies between the points is not known: the difference to a straight line as a half-width.
        const double between = (value - curve.linear(flow_mL_s)) / std::sqrt(3.0);
        // The two points share most of their uncertainty, and a record keeps no covariance of the points: the
        // larger of both is kept, not the reduced mean.
        return {value, std::hypot(std::max(a.volume_mL.u, b.volume_mL.u), between),
                std::min(a.volume_mL.dof, b.volume_mL.dof)};
    }
    Uncertain volume = volume_of(*candidate, flow_mL_s);
    if (const RateCandidate* richer = next_richer(*this)) {
        volume.u = std::sqrt(variance_of_both(*candidate, volume, *richer, volume_of(*richer, flow_mL_s)));
    }
    return volume;
}

double RateModel::slope_at(double flow_mL_s) const {
    const RateCandidate* candidate = chosen_candidate();
    if (candidate == nullptr) {
        if (points.empty() || !(points.back().flow_mL_s > points.front().flow_mL_s) ||
            !(flow_mL_s >= points.front().flow_mL_s) || !(flow_mL_s <= points.back().flow_mL_s)) {
            return 0;  // the end values stand
        }
        return curve_through(points).slope(flow_mL_s);
    }
    const auto& p = candidate->parameters;
    if (candidate->form == RateForm::power) {
        return p[0].value * p[1].value * std::pow(flow_mL_s, p[1].value - 1);
    }
    return polynomial_slope(p, flow_mL_s);
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
