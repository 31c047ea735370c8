// What a fitted rate model says at a flow.
#include <algorithm>
#include <cmath>

#include "calib/rate/one_rate.hpp"
#include "calib/rate/rate_model.hpp"
#include "calib/statistics/monotone.hpp"

namespace tipwright::calib {

namespace {

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

// Between two rates the volume may go from one to the other along any rising or falling curve: up to half of
// the way from the line in the middle, rectangular.
double unknown_bend_u(const RateModel& model, const RateCandidate& line, double flow_mL_s) {
    const double range = model.flow_max_mL_s - model.flow_min_mL_s;
    const double share = std::clamp((flow_mL_s - model.flow_min_mL_s) / range, 0.0, 1.0);
    return std::abs(line.parameters[1].value * range) / 2 * 4 * share * (1 - share) / std::sqrt(3.0);
}

// Points at one rate are one point, their mean: between two flows that hardly differ a curve would have the
// slope of their scatter. Its u reaches to each of them.
std::vector<RatePoint> one_point_a_rate(const std::vector<RatePoint>& points) {
    std::vector<RatePoint> out;
    for (auto first = points.begin(); first != points.end();) {
        const auto end = std::find_if(first, points.end(), [&](const RatePoint& other) {
            return !is_one_rate(first->flow_mL_s, other.flow_mL_s);
        });
        const auto count = static_cast<double>(end - first);
        RatePoint joined{0, {0, 0, infinite_dof}};
        for (auto each = first; each != end; ++each) {
            joined.flow_mL_s += each->flow_mL_s / count;
            joined.volume_mL.value += each->volume_mL.value / count;
            joined.volume_mL.u = std::max(joined.volume_mL.u, each->volume_mL.u);
            joined.volume_mL.dof = std::min(joined.volume_mL.dof, each->volume_mL.dof);
        }
        double farthest = 0;
        for (auto each = first; each != end; ++each)
            farthest = std::max(farthest, std::abs(each->volume_mL.value - joined.volume_mL.value));
        joined.volume_mL.u = std::hypot(joined.volume_mL.u, farthest);
        out.push_back(count > 1 ? joined : *first);
        first = end;
    }
    return out;
}

MonotoneCurve curve_through(const std::vector<RatePoint>& points) {
    std::vector<double> flow;
    std::vector<double> volume;
    for (const RatePoint& point : points) {
        flow.push_back(point.flow_mL_s);
        volume.push_back(point.volume_mL.value);
    }
    return {std::move(flow), std::move(volume)};
}

// How far, in the mean of squares, a point lies from what the others say of it: what a curve through points
// that follow no simple form is worth between them.
double left_out_misfit(const std::vector<RatePoint>& points) {
    double squares = 0;
    int count = 0;
    for (std::size_t k = 1; k + 1 < points.size(); ++k) {
        std::vector<RatePoint> others = points;
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(k));
        const double misfit = curve_through(others).value(points[k].flow_mL_s) - points[k].volume_mL.value;
        squares += misfit * misfit;
        ++count;
    }
    return count > 0 ? std::sqrt(squares / count) : 0;
}

}  // namespace

Uncertain RateCandidate::volume_at(double flow_mL_s) const {
    const auto& p = parameters;
    std::vector<double> gradient;
    double value = 0;
    if (form == RateForm::power) {
        const double power = std::pow(flow_mL_s, p[1].value);
        value = p[0].value * power;
        gradient = {power, value * std::log(flow_mL_s)};
    } else {
        value = polynomial(p, flow_mL_s);
        for (std::size_t k = 0; k < p.size(); ++k)
            gradient.push_back(std::pow(flow_mL_s, static_cast<double>(k)));
    }
    double variance = 0;
    double least_dof = infinite_dof;
    for (std::size_t k = 0; k < p.size(); ++k) {
        least_dof = std::min(least_dof, p[k].dof);
        for (std::size_t l = 0; l < p.size(); ++l) variance += gradient[k] * gradient[l] * covariance[k][l];
    }
    return {value, std::sqrt(std::max(0.0, variance)), least_dof};
}

int RateModel::rates() const {
    int count = 0;
    double last = 0;
    for (const RatePoint& point : points) {
        if (count > 0 && is_one_rate(last, point.flow_mL_s)) continue;
        last = point.flow_mL_s;
        ++count;
    }
    return count;
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
        const std::vector<RatePoint> nodes = one_point_a_rate(points);
        if (nodes.empty()) return {};
        if (flow_mL_s <= nodes.front().flow_mL_s) return nodes.front().volume_mL;
        if (flow_mL_s >= nodes.back().flow_mL_s) return nodes.back().volume_mL;
        const auto upper =
            std::upper_bound(nodes.begin(), nodes.end(), flow_mL_s,
                             [](double flow, const RatePoint& point) { return flow < point.flow_mL_s; });
        const RatePoint& b = *upper;
        const RatePoint& a = *(upper - 1);
        const MonotoneCurve curve = curve_through(nodes);
        const double value = curve.value(flow_mL_s);
        // What curve lies between the points is not known: the difference to a straight line as a half-width.
        const double to_line = (value - curve.linear(flow_mL_s)) / std::sqrt(3.0);
        // Full half-way between two points, none at them.
        const double share = (flow_mL_s - a.flow_mL_s) / (b.flow_mL_s - a.flow_mL_s);
        const double between = std::hypot(to_line, 2 * std::min(share, 1 - share) * left_out_misfit(nodes));
        // The two points share most of their uncertainty, and a record keeps no covariance of the points: the
        // larger of both is kept, not the reduced mean.
        return {value, std::hypot(std::max(a.volume_mL.u, b.volume_mL.u), between),
                std::min(a.volume_mL.dof, b.volume_mL.dof)};
    }
    Uncertain volume = candidate->volume_at(flow_mL_s);
    if (candidate->form == RateForm::line && rates() == 2) {
        volume.u = std::hypot(volume.u, unknown_bend_u(*this, *candidate, flow_mL_s));
        return volume;
    }
    if (const RateCandidate* richer = next_richer(*this)) {
        volume.u = std::sqrt(variance_of_both(*candidate, volume, *richer, richer->volume_at(flow_mL_s)));
    }
    return volume;
}

double RateModel::slope_at(double flow_mL_s) const {
    const RateCandidate* candidate = chosen_candidate();
    if (candidate == nullptr) {
        const std::vector<RatePoint> nodes = one_point_a_rate(points);
        if (nodes.size() < 2 || !(flow_mL_s >= nodes.front().flow_mL_s) ||
            !(flow_mL_s <= nodes.back().flow_mL_s)) {
            return 0;  // the end values stand
        }
        return curve_through(nodes).slope(flow_mL_s);
    }
    const auto& p = candidate->parameters;
    if (candidate->form == RateForm::power) {
        return p[0].value * p[1].value * std::pow(flow_mL_s, p[1].value - 1);
    }
    return polynomial_slope(p, flow_mL_s);
}

}  // namespace tipwright::calib
