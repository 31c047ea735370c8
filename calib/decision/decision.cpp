#include "calib/decision/decision.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <numbers>

#include "calib/statistics/boost_policy.hpp"
#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
// Beyond so many standard deviations a normal density adds nothing to a double.
constexpr double reach = 39;
constexpr double quadrature_tolerance = 1e-12;

Fault bad(const std::string& what, const std::string& where) {
    return Fault{FaultCode::bad_value, what, where, {}};
}

Outcome check(const Prior& prior, double u, const ToleranceInterval& tolerance) {
    if (!(u > 0) || !std::isfinite(u)) return bad("the standard uncertainty is not above zero", "decision");
    if (!(tolerance.low < tolerance.high)) return bad("the limits are the wrong way round", "tolerance");
    if (!prior.density || !(prior.low < prior.high) || !(prior.sd > 0) || !std::isfinite(prior.sd) ||
        !std::isfinite(prior.mean)) {
        return bad("the prior has no density, range or width", "prior");
    }
    return Done{};
}

double probability_between(double low, double high, double centre, double u, double dof) {
    const double a = (low - centre) / u;
    const double b = (high - centre) / u;
    const auto below = [&](double z) {
        if (std::isinf(z)) return z < 0 ? 0.0 : 1.0;
        return student_cumulative(z, dof);
    };
    // From the nearer tail, which keeps its digits.
    return a > 0 ? below(-a) - below(-b) : below(b) - below(a);
}

// Integrals over part of the prior, cut where either the prior or the measurement changes quickly.
class Quadrature {
public:
    Quadrature(const Prior& prior, double u, const std::vector<double>& edges) : prior_(prior) {
        cuts_ = {prior.low, prior.high};
        for (const double k : {0.0, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0}) {
            cuts_.push_back(prior.mean - k * prior.sd);
            cuts_.push_back(prior.mean + k * prior.sd);
            for (const double edge : edges) {
                cuts_.push_back(edge - k * u);
                cuts_.push_back(edge + k * u);
            }
        }
        std::sort(cuts_.begin(), cuts_.end());
    }

    template <class F>
    double integral(double from, double to, F f) const {
        from = std::max(from, prior_.low);
        to = std::min(to, prior_.high);
        double sum = 0;
        double start = from;
        for (const double cut : cuts_) {
            if (!(cut > start)) continue;
            const double end = std::min(cut, to);
            if (end > start) sum += piece(start, end, f);
            start = std::max(start, end);
        }
        if (to > start) sum += piece(start, to, f);
        return sum;
    }

private:
    template <class F>
    double piece(double from, double to, F f) const {
        using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;
        return Rule::integrate([&](double x) { return prior_.density(x) * f(x); }, from, to, 10,
                               quadrature_tolerance);
    }

    const Prior& prior_;
    std::vector<double> cuts_;
};

}  // namespace

double conformance_probability(const Uncertain& measured, const ToleranceInterval& tolerance) {
    if (measured.u == 0) return tolerance.contains(measured.value) ? 1 : 0;
    return probability_between(tolerance.low, tolerance.high, measured.value, measured.u, measured.dof);
}

double guard_band_for_specific_risk(double u, double probability, double dof) {
    return -u * student_quantile(probability, dof);
}

double specific_risk_bound(double times_U, double k, double dof) {
    return student_cumulative(-times_U * k, dof);
}

Prior normal_prior(double mean, double sd) {
    return {[=](double x) {
                const double z = (x - mean) / sd;
                return std::exp(-z * z / 2) / (sd * std::sqrt(2 * std::numbers::pi));
            },
            mean - reach * sd, mean + reach * sd, mean, sd};
}

Result<GlobalRisk> global_risk(const Prior& prior, double u, const ToleranceInterval& tolerance,
                               const ToleranceInterval& acceptance, double dof) {
    if (!(dof > 0)) return bad("the degrees of freedom are not above zero", "decision");
    if (Outcome checked = check(prior, u, tolerance); !checked) return checked.fault();
    std::vector<double> edges;
    for (const double edge : {tolerance.low, tolerance.high, acceptance.low, acceptance.high}) {
        if (std::isfinite(edge)) edges.push_back(edge);
    }
    const Quadrature quadrature(prior, u, edges);
    const auto accepted = [&](double eta) {
        return acceptance.low <= acceptance.high
                   ? probability_between(acceptance.low, acceptance.high, eta, u, dof)
                   : 0.0;
    };
    const auto rejected = [&](double eta) {
        if (!(acceptance.low <= acceptance.high)) return 1.0;
        return probability_between(-infinite, acceptance.low, eta, u, dof) +
               probability_between(acceptance.high, infinite, eta, u, dof);
    };
    const auto one = [](double) { return 1.0; };
    const double total = quadrature.integral(prior.low, prior.high, one);
    if (!(std::fabs(total - 1) <= 1e-6)) {
        return bad("the prior's density integrates to " + std::to_string(total) + ", not to one", "prior");
    }
    GlobalRisk risk;
    risk.nonconforming = quadrature.integral(prior.low, tolerance.low, one) +
                         quadrature.integral(tolerance.high, prior.high, one);
    risk.consumer = quadrature.integral(prior.low, tolerance.low, accepted) +
                    quadrature.integral(tolerance.high, prior.high, accepted);
    risk.producer = quadrature.integral(tolerance.low, tolerance.high, rejected);
    risk.accepted = risk.consumer + quadrature.integral(tolerance.low, tolerance.high, accepted);
    return risk;
}

}  // namespace tipwright::calib
