#include "calib/statistics/curve_fit.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "calib/statistics/linear_fit.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

SquareMatrix diagonal(std::size_t n, double u) {
    SquareMatrix m(n);
    for (std::size_t i = 0; i < n; ++i) m(i, i) = u * u;
    return m;
}

CalibrationPoints power_points(double a, double b) {
    CalibrationPoints points;
    for (const double x : {2.0, 20.0, 50.0, 90.0, 130.0, 200.0}) {
        points.x.push_back(x);
        points.y.push_back(a * std::pow(x, b));
    }
    points.cov_x = diagonal(6, 0.3);
    points.cov_y = diagonal(6, 0.5);
    return points;
}

}  // namespace

// Built backwards: points on the curve give the curve.
TEST_CASE("a power law whose points lie on it comes back whole") {
    const auto fit = fit_power_law(power_points(0.965, 1.021));
    REQUIRE(fit);
    CHECK(fit->parameters[0] == Approx(0.965).epsilon(1e-10));
    CHECK(fit->parameters[1] == Approx(1.021).epsilon(1e-10));
    CHECK(fit->chi2 == Approx(0).margin(1e-12));
    CHECK(fit->consistent);
}

TEST_CASE("a straight line as a curve is the straight line") {
    CalibrationPoints points = power_points(1, 1);
    points.y[2] += 0.8;
    points.y[4] -= 0.5;
    points.cov_xy = SquareMatrix(6);
    for (std::size_t i = 0; i < 6; ++i) points.cov_xy(i, i) = 0.4 * 0.3 * 0.5;
    CurveModel line;
    line.value = [](double x, std::span<const double> b) { return b[0] + b[1] * x; };
    const auto curve = fit_curve(points, line, {5, 0});
    const auto polynomial = fit_polynomial(points, 1);
    REQUIRE(curve);
    REQUIRE(polynomial);
    CHECK(curve->chi2 == Approx(polynomial->chi2).epsilon(1e-9));
    for (std::size_t k = 0; k < 2; ++k) {
        CHECK(curve->parameters[k] == Approx(polynomial->coefficients[k]).epsilon(1e-8));
        CHECK(curve->covariance(k, k) == Approx(polynomial->covariance(k, k)).epsilon(1e-7));
    }
    const Uncertain a = evaluate(*curve, {70, 0.4, 12});
    const Uncertain b = evaluate(*polynomial, {70, 0.4, 12});
    CHECK(a.value == Approx(b.value).epsilon(1e-9));
    CHECK(a.u == Approx(b.u).epsilon(1e-7));
    CHECK(a.dof == Approx(b.dof).epsilon(1e-6));
}

TEST_CASE("a scale found from the residuals reaches the evaluation") {
    CalibrationPoints points = power_points(1, 1.1);
    points.cov_x = {};
    points.cov_y = diagonal(6, 1);
    points.y[1] += 0.01;
    points.y[3] -= 0.02;
    const auto fit = fit_power_law(points);
    REQUIRE(fit);
    const auto scale = unknown_scale(fit->chi2, fit->dof);
    REQUIRE(scale);
    const FittedCurve scaled = with_scale(*fit, *scale);
    CHECK(evaluate(scaled, {60, 0}).u == Approx(scale->sigma * evaluate(*fit, {60, 0}).u).epsilon(1e-9));
    CHECK(evaluate(scaled, {60, 0}).dof == Approx(4));
}

TEST_CASE("curves that cannot be fitted say why") {
    CalibrationPoints points = power_points(1, 1);
    points.x[1] = -1;
    CHECK(fit_power_law(points).fault().where == "point 2");
    points = power_points(1, 1);
    points.y[5] = 0;
    CHECK(fit_power_law(points).fault().where == "point 6");
    points = power_points(1, 1);
    points.cov_x = {};
    points.cov_y(3, 3) = 0;
    CHECK(fit_power_law(points).fault().where == "point 4");
    CHECK(fit_curve(points, {}, {1}).fault().code == FaultCode::bad_value);
    CHECK(fit_curve(points, power_law(), {}).fault().code == FaultCode::bad_value);
    CHECK(fit_curve(power_points(1, 1), power_law(), {std::nan(""), 1}).fault().code == FaultCode::bad_value);

    CurveModel twice;  // only the sum of its parameters matters
    twice.value = [](double x, std::span<const double> b) { return (b[0] + b[1]) * x; };
    const auto undetermined = fit_curve(power_points(1, 1), twice, {1, 1});
    REQUIRE_FALSE(undetermined);
    CHECK(undetermined.fault().code == FaultCode::bad_value);
    CurveModel idle;
    idle.value = [](double x, std::span<const double> b) { return b[0] * x + 0 * b[1]; };
    CHECK(fit_curve(power_points(1, 1), idle, {0.5, 1}).fault().where == "parameter 2");
}

TEST_CASE("linear fits that cannot be are refused by name") {
    const Design design{3, 2, {1, 2, 1, 3, 1, 5}};
    CHECK(fit_linear(design, {1, 2}).fault().code == FaultCode::bad_value);
    CHECK(fit_linear(design, {1, std::nan(""), 2}).fault().where == "point 2");
    CHECK(fit_linear({1, 2, {1, 2}}, {1}).fault().code == FaultCode::too_few_points);
    const Design dependent{3, 2, {1, 2, 2, 4, 3, 6}};
    CHECK(fit_linear(dependent, {1, 2, 3}).fault().code == FaultCode::bad_value);
    SquareMatrix covariance = diagonal(3, 1);
    covariance(2, 2) = 0;
    CHECK(fit_linear(design, {1, 2, 3}, covariance).fault().where == "point 3");
    covariance(2, 2) = -1;
    CHECK(fit_linear(design, {1, 2, 3}, covariance).fault().where == "point 3");
}
