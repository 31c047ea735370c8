#include "calib/statistics/monotone.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <string>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

CalibrationPoints points_of(std::vector<double> x, std::vector<double> y, double u_y) {
    CalibrationPoints points;
    points.cov_y = SquareMatrix(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) points.cov_y(i, i) = u_y * u_y;
    points.x = std::move(x);
    points.y = std::move(y);
    return points;
}

}  // namespace

// Radiochemical data, Fritsch and Carlson 1980, table 1 (from memory): a cubic spline overshoots here.
TEST_CASE("the curve through the data of Fritsch and Carlson never turns back") {
    const std::vector<double> x = {7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20};
    const std::vector<double> y = {0,        2.76429e-5, 4.37498e-2, 0.169183, 0.469428,
                                   0.943740, 0.998636,   0.999919,   0.999994};
    const MonotoneCurve curve(x, y);
    for (std::size_t i = 0; i < x.size(); ++i) CHECK(curve.value(x[i]) == Approx(y[i]).margin(1e-15));
    double last = -1;
    for (double at = 7.99; at <= 20; at += 0.001) {
        const double value = curve.value(at);
        REQUIRE(value >= last - 1e-15);
        REQUIRE(value >= 0);
        REQUIRE(value <= 0.999994 + 1e-15);
        last = value;
    }
}

TEST_CASE("between any two points the curve stays between their values") {
    std::mt19937_64 random(3);
    std::normal_distribution<double> normal;
    for (int trial = 0; trial < 200; ++trial) {
        std::vector<double> x;
        std::vector<double> y;
        double at = 0;
        for (int i = 0; i < 7; ++i) {
            x.push_back(at += 0.01 + std::fabs(normal(random)));
            y.push_back(normal(random));
        }
        const MonotoneCurve curve(x, y);
        for (std::size_t i = 0; i + 1 < x.size(); ++i) {
            const double low = std::min(y[i], y[i + 1]);
            const double high = std::max(y[i], y[i + 1]);
            for (int k = 0; k <= 50; ++k) {
                const double value = curve.value(x[i] + (x[i + 1] - x[i]) * k / 50);
                REQUIRE(value >= low - 1e-12);
                REQUIRE(value <= high + 1e-12);
            }
        }
    }
}

TEST_CASE("a straight line comes back as itself, slope and all") {
    const MonotoneCurve curve({0, 1, 2.5, 4}, {1, 3, 6, 9});
    for (const double x : {0.0, 0.3, 1.0, 1.7, 3.9, 4.0}) {
        CHECK(curve.value(x) == Approx(1 + 2 * x).epsilon(1e-13));
        CHECK(curve.slope(x) == Approx(2).epsilon(1e-13));
        CHECK(curve.linear(x) == Approx(1 + 2 * x).epsilon(1e-13));
    }
}

TEST_CASE("slopes are those of finite differences") {
    const MonotoneCurve curve({0, 1, 2, 4, 7}, {0, 2, 2.5, 5, 5.1});
    constexpr double h = 1e-6;
    for (const double x : {0.4, 1.3, 2.6, 5.5}) {
        CHECK(curve.slope(x) == Approx((curve.value(x + h) - curve.value(x - h)) / (2 * h)).epsilon(1e-7));
    }
}

TEST_CASE("uncertainty at a point is that of the point, between, the choice of curve is added") {
    const auto made = make_monotone_interpolation(points_of({1, 2, 4, 5}, {6.3, 6.5, 6.6, 7.4}, 0.02));
    REQUIRE(made);
    const auto at_point = evaluate(*made, {2, 0});
    REQUIRE(at_point);
    CHECK(at_point->total.value == Approx(6.5));
    CHECK(at_point->total.u == Approx(0.02).epsilon(1e-6));
    CHECK(at_point->u_between == Approx(0).margin(1e-12));
    const auto between = evaluate(*made, {4.5, 0});
    REQUIRE(between);
    CHECK(between->u_between ==
          Approx(std::fabs(made->curve.value(4.5) - 7.0) / std::sqrt(3.0)).epsilon(1e-9));
    CHECK(between->total.u == Approx(std::hypot(between->u_points, between->u_between)).epsilon(1e-12));
    const auto uncertain_x = evaluate(*made, {4.5, 0.1});
    REQUIRE(uncertain_x);
    CHECK(uncertain_x->u_points ==
          Approx(std::hypot(between->u_points, 0.1 * made->curve.slope(4.5))).epsilon(1e-9));
}

// A shift common to all points shifts the curve: its uncertainty must come through unchanged everywhere.
TEST_CASE("what the points have in common stays whole between them") {
    CalibrationPoints points = points_of({1, 2, 3.5, 4, 6}, {6.3, 6.4, 6.42, 6.9, 7.0}, 0);
    for (double& value : points.cov_y.values) value = 0.03 * 0.03;
    const auto made = make_monotone_interpolation(points);
    REQUIRE(made);
    for (const double x : {1.0, 1.4, 3.0, 3.7, 5.5}) {
        const auto value = evaluate(*made, {x, 0});
        REQUIRE(value);
        CHECK(value->u_points == Approx(0.03).epsilon(1e-5));
    }
    // The same shift in x moves the curve sideways: u = |slope| u(x), and with both fully correlated they
    // add.
    points.cov_x = points.cov_y;
    points.cov_xy = points.cov_y;
    const auto sideways = make_monotone_interpolation(points);
    REQUIRE(sideways);
    for (const double x : {1.4, 3.0, 5.5}) {
        const auto value = evaluate(*sideways, {x, 0});
        REQUIRE(value);
        CHECK(value->u_points == Approx(0.03 * std::fabs(1 - sideways->curve.slope(x))).epsilon(1e-4));
    }
}

TEST_CASE("the order of the points does not matter") {
    const auto sorted = make_monotone_interpolation(points_of({1, 2, 4}, {6.3, 6.5, 6.6}, 0.02));
    const auto mixed = make_monotone_interpolation(points_of({4, 1, 2}, {6.6, 6.3, 6.5}, 0.02));
    REQUIRE(sorted);
    REQUIRE(mixed);
    CHECK(evaluate(*mixed, {3.1, 0.01})->total.value == evaluate(*sorted, {3.1, 0.01})->total.value);
    CHECK(evaluate(*mixed, {3.1, 0.01})->total.u ==
          Approx(evaluate(*sorted, {3.1, 0.01})->total.u).epsilon(1e-12));
}

TEST_CASE("points that cannot be interpolated are named") {
    CHECK(make_monotone_interpolation(points_of({1}, {1}, 0.1)).fault().code == FaultCode::too_few_points);
    CHECK(make_monotone_interpolation(points_of({1, 2, 1}, {1, 2, 3}, 0.1)).fault().where == "point 3");
    CHECK(make_monotone_interpolation(points_of({1, 2, 3}, {1, std::nan(""), 3}, 0.1)).fault().where ==
          "point 2");
    CalibrationPoints points = points_of({1, 2, 3}, {1, 2, 3}, 0.1);
    points.cov_y(2, 2) = -1;
    CHECK(make_monotone_interpolation(points).fault().where == "point 3");
    const auto made = make_monotone_interpolation(points_of({1, 2, 3}, {1, 2, 3}, 0.1));
    REQUIRE(made);
    CHECK(evaluate(*made, {0.99, 0}).fault().code == FaultCode::bad_value);
    CHECK(evaluate(*made, {3.01, 0}).fault().code == FaultCode::bad_value);
    CHECK_FALSE(evaluate(*made, {std::nan(""), 0}).ok());
}
