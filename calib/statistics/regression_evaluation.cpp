#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <string>

#include "calib/statistics/regression.hpp"

namespace tipwright::calib {

namespace {

// Two independent parts, each with its degrees of freedom (JCGM 100:2008 G.4.1).
Uncertain sum_of(double value, double u2_fit, double fit_dof, double u2_input, double input_dof) {
    const double u2 = u2_fit + u2_input;
    const double fourth = u2_fit * u2_fit / fit_dof + u2_input * u2_input / input_dof;
    return {value, std::sqrt(u2), fourth > 0 ? u2 * u2 / fourth : infinite_dof};
}

struct PolynomialAt {
    double value = 0;
    double slope = 0;
    double u2 = 0;  // from the coefficients
};

PolynomialAt polynomial_at(const FittedPolynomial& fit, double x) {
    PolynomialAt at;
    const std::size_t count = fit.coefficients.size();
    for (std::size_t k = count; k-- > 0;) {
        at.slope = at.slope * x + at.value;
        at.value = at.value * x + fit.coefficients[k];
    }
    double power_i = 1;
    for (std::size_t i = 0; i < count; ++i, power_i *= x) {
        double power_j = 1;
        for (std::size_t j = 0; j < count; ++j, power_j *= x)
            at.u2 += power_i * power_j * fit.covariance(i, j);
    }
    at.u2 = std::max(at.u2, 0.0);
    return at;
}

Outcome check_y(const Uncertain& y) {
    if (std::isfinite(y.value) && y.u >= 0) return Done{};
    return Fault{FaultCode::not_finite, "y or its uncertainty is not a number", "inverse evaluation", {}};
}

}  // namespace

Uncertain evaluate(const FittedPolynomial& fit, const Uncertain& x) {
    const PolynomialAt at = polynomial_at(fit, x.value);
    return sum_of(at.value, at.u2, fit.coefficient_dof, at.slope * at.slope * x.u * x.u, x.dof);
}

Result<Uncertain> evaluate_inverse(const FittedPolynomial& line, const Uncertain& y) {
    if (line.coefficients.size() != 2) {
        return Fault{FaultCode::bad_value, "only a straight line can be evaluated backwards without a range",
                     "inverse evaluation", "give the range to look in"};
    }
    if (Outcome checked = check_y(y); !checked) return checked.fault();
    const double a = line.coefficients[0];
    const double b = line.coefficients[1];
    if (!(std::fabs(b) > 0)) {
        return Fault{
            FaultCode::bad_value, "the line has no slope: no x belongs to a y", "inverse evaluation", {}};
    }
    const double x = (y.value - a) / b;
    return sum_of(x, polynomial_at(line, x).u2 / (b * b), line.coefficient_dof, y.u * y.u / (b * b), y.dof);
}

Result<Uncertain> evaluate_inverse(const FittedPolynomial& fit, const Uncertain& y, double low, double high) {
    if (Outcome checked = check_y(y); !checked) return checked.fault();
    if (!(low < high) || !std::isfinite(low) || !std::isfinite(high)) {
        return Fault{FaultCode::bad_value, "the range to look in is empty", "inverse evaluation", {}};
    }
    // One y may belong to several x: the function must rise or fall over the whole range.
    constexpr int pieces = 256;
    const double direction = polynomial_at(fit, high).value - polynomial_at(fit, low).value;
    for (int i = 0; i <= pieces; ++i) {
        const double x = low + (high - low) * i / pieces;
        if (!(polynomial_at(fit, x).slope * direction > 0)) {
            return Fault{FaultCode::bad_value, "the function turns back near x = " + std::to_string(x),
                         "inverse evaluation", "choose a range in which it only rises or only falls"};
        }
    }
    const auto excess = [&](double x) { return polynomial_at(fit, x).value - y.value; };
    const double at_low = excess(low);
    const double at_high = excess(high);
    if (at_low * at_high > 0) {
        return Fault{FaultCode::bad_value, "y = " + std::to_string(y.value) + " is not reached in the range",
                     "inverse evaluation", "nothing is known outside the points"};
    }
    double x = low;
    if (at_low != 0 && at_high != 0) {
        std::uintmax_t iterations = 200;
        const auto bracket = boost::math::tools::toms748_solve(
            excess, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(), iterations);
        x = (bracket.first + bracket.second) / 2;
    } else if (at_high == 0) {
        x = high;
    }
    const PolynomialAt at = polynomial_at(fit, x);
    const double square = at.slope * at.slope;
    return sum_of(x, at.u2 / square, fit.coefficient_dof, y.u * y.u / square, y.dof);
}

Result<UnknownScale> unknown_scale(double chi2, double dof, ScaleEstimate estimate) {
    const double divisor = estimate == ScaleEstimate::residual ? dof : dof - 2;
    if (!(divisor > 0) || !(chi2 >= 0) || !std::isfinite(chi2)) {
        return Fault{
            FaultCode::too_few_points,
            "an unknown scale needs more points than coefficients (for the posterior estimate three more)",
            "regression", "measure more points"};
    }
    // The posterior estimate already is the standard deviation of a t distribution (Annex E).
    return UnknownScale{std::sqrt(chi2 / divisor), dof};
}

FittedPolynomial with_scale(FittedPolynomial fit, const UnknownScale& scale) {
    for (double& value : fit.covariance.values) value *= scale.sigma * scale.sigma;
    fit.coefficient_dof = scale.dof;
    return fit;
}

Outcome refuse_wild_points(const FittedPolynomial& fit, double limit) {
    std::size_t worst = 0;
    const auto& w = fit.normalized_deviations;
    for (std::size_t i = 1; i < w.size(); ++i) {
        if (std::fabs(w[i]) > std::fabs(w[worst])) worst = i;
    }
    if (w.empty() || std::fabs(w[worst]) <= limit) return Done{};
    return Fault{FaultCode::inconsistent,
                 "lies " + std::to_string(std::lround(std::fabs(w[worst]))) +
                     " times its standard uncertainty from where the other points put it",
                 "point " + std::to_string(worst + 1), "check this measurement, or leave it out and say so"};
}

}  // namespace tipwright::calib
