#include "calib/rain/depth_curve.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "calib/rain/siphon_line.hpp"

namespace tipwright::calib {

namespace {

constexpr int node_count = 2001;
constexpr double furthest_flow = 3;  // times the highest calibrated one
constexpr double mm_per_mL_per_cm2 = 10;

// The model, continued beyond its flows.
class Continued {
public:
    explicit Continued(const RateModel& model, const RateCandidate* siphons)
        : model_(model), fit_(siphons ? siphons : model.chosen_candidate()), is_siphons_(siphons != nullptr) {
        held_ = fit_ == nullptr || fit_->form == RateForm::power;
        const double span = model.flow_max_mL_s - model.flow_min_mL_s;
        const double v_low = model.volume_at(model.flow_min_mL_s).value;
        const double v_high = model.volume_at(model.flow_max_mL_s).value;
        if (held_ && span > 0) {
            const double near_s = 0.1 * span;
            slope_low_ = (model.volume_at(model.flow_min_mL_s + near_s).value - v_low) / near_s;
            slope_high_ = (v_high - model.volume_at(model.flow_max_mL_s - near_s).value) / near_s;
        }
    }

    double inside(double flow) const {
        return held_ ? std::clamp(flow, model_.flow_min_mL_s, model_.flow_max_mL_s) : flow;
    }
    double value(double flow) const {
        return fit_ ? fit_->volume_at(inside(flow)).value : model_.volume_at(flow).value;
    }
    double slope(double flow) const {
        if (is_siphons_) return fit_->parameters[1].value;
        return inside(flow) != flow ? 0 : model_.slope_at(flow);
    }
    // Of v, beyond the covariance of the parameters: the choice of the form, and the continuation.
    double open_u(double flow) const {
        double variance = 0;
        if (!is_siphons_) {
            const double whole = model_.volume_at(inside(flow)).u;
            const double fit = fit_ ? fit_->volume_at(inside(flow)).u : 0;
            variance = std::max(0.0, whole * whole - fit * fit);
        }
        if (held_) {
            const double off = std::max(0.0, model_.flow_min_mL_s - flow) * slope_low_ +
                               std::max(0.0, flow - model_.flow_max_mL_s) * slope_high_;
            variance += off * off / 3;
        } else if (flow > model_.flow_max_mL_s) {
            const double off = value(flow) - value(model_.flow_max_mL_s);
            variance += off * off / 3;
        }
        return std::sqrt(variance);
    }
    std::vector<double> gradient(double flow) const {
        if (!fit_) return {};
        const double q = inside(flow);
        std::vector<double> out;
        if (fit_->form == RateForm::power) {
            const double power = std::pow(q, fit_->parameters[1].value);
            return {power, fit_->parameters[0].value * power * std::log(q)};
        }
        double power = 1;
        for (std::size_t k = 0; k < fit_->parameters.size(); ++k, power *= q) out.push_back(power);
        return out;
    }
    const RateCandidate* fit() const { return fit_; }

private:
    const RateModel& model_;
    const RateCandidate* fit_;
    bool is_siphons_;
    bool held_ = false;
    double slope_low_ = 0;
    double slope_high_ = 0;
};

// Lower Cholesky factor of a covariance that may be singular to rounding.
Result<Eigen::MatrixXd> factor_of(const RateCandidate& fit) {
    const auto p = static_cast<Eigen::Index>(fit.parameters.size());
    Eigen::MatrixXd covariance(p, p);
    for (Eigen::Index i = 0; i < p; ++i)
        for (Eigen::Index j = 0; j < p; ++j)
            covariance(i, j) = fit.covariance[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    const Eigen::LLT<Eigen::MatrixXd> llt(covariance);
    if (llt.info() == Eigen::Success) return Eigen::MatrixXd(llt.matrixL());
    if (covariance.isZero(0)) return Eigen::MatrixXd::Zero(p, p).eval();
    return Fault{FaultCode::bad_covariance, "the parameters' covariance is not positive definite",
                 "rate model", "evaluate the run again"};
}

}  // namespace

Result<DepthCurve> DepthCurve::make(const RateModel& model, const Gauge& gauge) {
    if (!(model.flow_max_mL_s > 0 && model.flow_min_mL_s > 0))
        return Fault{FaultCode::too_few_points, "no rate model over flows", "correction",
                     "use a certificate whose gauge was run at several rates"};
    // Before the model is asked for anything, which needs it.
    if (const RateCandidate* fit = model.chosen_candidate();
        fit != nullptr &&
        (fit->parameters.size() >= curve_modes || fit->covariance.size() != fit->parameters.size()))
        return Fault{FaultCode::bad_covariance, "the parameters lack their covariance", "rate model",
                     "evaluate the run again"};
    const auto siphons = siphon_line(model, gauge);
    const Continued law(model, siphons ? &*siphons : nullptr);
    Eigen::MatrixXd factor;
    DepthCurve out;
    if (law.fit()) {
        auto found = factor_of(*law.fit());
        if (!found) return found.fault();
        factor = std::move(*found);
        for (const Uncertain& p : law.fit()->parameters) out.dof_ = std::min(out.dof_, p.dof);
    } else {
        for (const RatePoint& p : model.points) out.dof_ = std::min(out.dof_, p.volume_mL.dof);
    }
    const Uncertain area = gauge.catch_area_cm2();
    const double scale = mm_per_mL_per_cm2 / area.value;
    out.rim_relative_u_ = area.u / area.value;
    const auto interval_of = [&](double flow) { return law.value(flow) / flow; };
    out.shortest_s_ = interval_of(model.flow_max_mL_s);
    out.longest_s_ = interval_of(model.flow_min_mL_s);

    // As far up as intervals still get shorter with the flow.
    double top = model.flow_max_mL_s;
    for (int i = 1; i <= 200; ++i) {
        const double next = model.flow_max_mL_s * (1 + (furthest_flow - 1) * i / 200);
        if (!(interval_of(next) < interval_of(top)) || !(law.slope(next) < interval_of(next))) break;
        top = next;
    }
    out.rate_end_ = 1 / interval_of(top);
    out.per_rate_ = (node_count - 1) / out.rate_end_;
    for (int i = 0; i < node_count; ++i) {
        const double rate = out.rate_end_ * i / (node_count - 1);
        double low = 0, high = top;
        // v(Q) rate = Q
        for (int n = 0; i > 0 && n < 100 && high - low > 1e-14 * high; ++n) {
            const double middle = (low + high) / 2;
            (law.value(middle) * rate > middle ? low : high) = middle;
        }
        const double flow = i == 0 ? 0 : (low + high) / 2;
        const double gain = 1 / (1 - law.slope(flow) * rate);
        TipDepth node;
        node.mm = scale * law.value(flow);
        const auto gradient = law.gradient(flow);
        for (std::size_t k = 0; k < gradient.size(); ++k)
            for (std::size_t l = 0; l < gradient.size(); ++l)
                node.modes[k] += scale * gain * gradient[l] *
                                 factor(static_cast<Eigen::Index>(l), static_cast<Eigen::Index>(k));
        node.modes[curve_modes - 1] = scale * gain * law.open_u(flow);
        if (!std::isfinite(node.mm + node.modes[0] + node.modes[curve_modes - 1]))
            return Fault{FaultCode::not_finite, "the rate model gives no depth", "correction",
                         "evaluate the run again"};
        out.nodes_.push_back(node);
    }
    return out;
}

double DepthCurve::mm_at(double interval_s) const {
    const double at = std::min(1 / interval_s, rate_end_) * per_rate_;
    const auto index = std::min(static_cast<std::size_t>(at), nodes_.size() - 2);
    return nodes_[index].mm + (at - static_cast<double>(index)) * (nodes_[index + 1].mm - nodes_[index].mm);
}

TipDepth DepthCurve::at(double interval_s) const {
    const double at = std::min(1 / interval_s, rate_end_) * per_rate_;
    const auto index = std::min(static_cast<std::size_t>(at), nodes_.size() - 2);
    const double share = at - static_cast<double>(index);
    const TipDepth& a = nodes_[index];
    const TipDepth& b = nodes_[index + 1];
    TipDepth out;
    out.mm = a.mm + share * (b.mm - a.mm);
    for (std::size_t k = 0; k < curve_modes; ++k)
        out.modes[k] = a.modes[k] + share * (b.modes[k] - a.modes[k]);
    return out;
}

}  // namespace tipwright::calib
