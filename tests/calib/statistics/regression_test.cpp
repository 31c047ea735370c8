#include "calib/statistics/regression.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <string>

#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

// Forward and inverse evaluation, clauses 11.2 and 11.1: what the covariance of the coefficients is for. x
// and y are independent of the fit.
double u_of_curve(const FittedPolynomial& fit, double x) {
    double u2 = 0;
    for (std::size_t i = 0; i < fit.coefficients.size(); ++i)
        for (std::size_t j = 0; j < fit.coefficients.size(); ++j)
            u2 += std::pow(x, static_cast<double>(i + j)) * fit.covariance(i, j);
    return std::sqrt(u2);
}
Uncertain evaluate(const FittedPolynomial& line, const Uncertain& x) {
    const double a = line.coefficients[0], b = line.coefficients[1];
    return {a + b * x.value, std::hypot(u_of_curve(line, x.value), b * x.u)};
}
Uncertain evaluate_inverse(const FittedPolynomial& line, const Uncertain& y) {
    const double a = line.coefficients[0], b = line.coefficients[1];
    const double x = (y.value - a) / b;
    return {x, std::hypot(u_of_curve(line, x), y.u) / std::abs(b)};
}

SquareMatrix diagonal(const std::vector<double>& u) {
    SquareMatrix m(u.size());
    for (std::size_t i = 0; i < u.size(); ++i) m(i, i) = u[i] * u[i];
    return m;
}

SquareMatrix matrix_from(const std::string& fixture) {
    const PublishedTable table(fixture);
    SquareMatrix m(table.rows());
    for (std::size_t i = 0; i < m.n; ++i) {
        for (std::size_t j = 0; j < m.n; ++j) m(i, j) = table.number(i, j);
    }
    return m;
}

// Points of an example of ISO/TS 28037 with the uncertainties of its data table.
CalibrationPoints example(const std::string& name) {
    const PublishedTable table(name + "_data.csv");
    CalibrationPoints points;
    points.x = table.column("x");
    points.y = table.column("y");
    points.cov_y = diagonal(table.column("u_y"));
    const std::vector<double> u_x = table.column("u_x");
    for (const double u : u_x) {
        if (u > 0 && points.cov_x.n == 0) points.cov_x = diagonal(u_x);
    }
    return points;
}

CalibrationPoints some_points() {
    CalibrationPoints points;
    points.x = {1, 2, 3, 4, 5};
    points.y = {2.1, 3.9, 6.2, 7.8, 10.1};
    points.cov_x = diagonal({0.1, 0.1, 0.1, 0.1, 0.1});
    points.cov_y = diagonal({0.2, 0.2, 0.2, 0.2, 0.2});
    return points;
}

// Twelve digits are kept in the recomputed columns.
constexpr double recomputed_tolerance = 2e-10;

void check_quantity(const PublishedTable& table, const std::string& quantity, double value) {
    CAPTURE(quantity);
    CHECK(value == Approx(table.number(quantity, "recomputed")).epsilon(recomputed_tolerance));
    if (table.has(quantity, "published")) {
        CHECK(value ==
              Approx(table.number(quantity, "published")).margin(table.half_digit(quantity, "published")));
    }
}

void check_line(const PublishedTable& table, const FittedPolynomial& fit) {
    check_quantity(table, "a", fit.coefficients.at(0));
    check_quantity(table, "b", fit.coefficients.at(1));
    check_quantity(table, "u_a", std::sqrt(fit.covariance(0, 0)));
    check_quantity(table, "u_b", std::sqrt(fit.covariance(1, 1)));
    check_quantity(table, "cov_ab", fit.covariance(0, 1));
    check_quantity(table, "chi2", fit.chi2);
    check_quantity(table, "dof", fit.dof);
    check_quantity(table, "chi2_quantile_95", fit.chi2_limit);
    CHECK(fit.consistent);
}

}  // namespace

TEST_CASE("ISO/TS 28037:2010 clause 6, weighted least squares with equal weights") {
    const PublishedTable table("iso28037_6_wls_equal.csv");
    const auto fit = fit_polynomial(example("iso28037_6_wls_equal"), 1);
    REQUIRE(fit);
    check_line(table, *fit);
    const Uncertain x = evaluate_inverse(*fit, {10.5, 0.5});
    check_quantity(table, "inverse_x_at_y10.5_u0.5", x.value);
    check_quantity(table, "inverse_u_x", x.u);
    const Uncertain y = evaluate(*fit, {3.5, 0.2});
    check_quantity(table, "forward_y_at_x3.5_u0.2", y.value);
    check_quantity(table, "forward_u_y", y.u);
    const Uncertain y2 = evaluate(*fit, {4.5, 0.4});
    check_quantity(table, "forward_y_at_x4.5_u0.4", y2.value);
    check_quantity(table, "forward_u_y_at_x4.5", y2.u);
}

TEST_CASE("ISO/TS 28037:2010 clause 6, weighted least squares with unequal weights") {
    const PublishedTable table("iso28037_6_wls_unequal.csv");
    const auto fit = fit_polynomial(example("iso28037_6_wls_unequal"), 1);
    REQUIRE(fit);
    check_line(table, *fit);
    const Uncertain x = evaluate_inverse(*fit, {10.5, 1.0});
    check_quantity(table, "inverse_x_at_y10.5_u1.0", x.value);
    check_quantity(table, "inverse_u_x", x.u);
}

TEST_CASE("ISO/TS 28037:2010 clause 7, uncertainty in x and y") {
    const PublishedTable table("iso28037_7_gdr.csv");
    const auto fit = fit_polynomial(example("iso28037_7_gdr"), 1);
    REQUIRE(fit);
    check_line(table, *fit);
    const Uncertain y = evaluate(*fit, {3.5, 0.2});
    check_quantity(table, "forward_y_at_x3.5_u0.2", y.value);
    check_quantity(table, "forward_u_y", y.u);
    const Uncertain y2 = evaluate(*fit, {4.5, 0.4});
    check_quantity(table, "forward_y_at_x4.5_u0.4", y2.value);
    check_quantity(table, "forward_u_y_at_x4.5", y2.u);
}

TEST_CASE("ISO/TS 28037:2010 clause 9, covariance in y") {
    CalibrationPoints points = example("iso28037_9_gmr");
    points.cov_y = matrix_from("iso28037_9_gmr_Uy.csv");
    const auto fit = fit_polynomial(points, 1);
    REQUIRE(fit);
    check_line(PublishedTable("iso28037_9_gmr.csv"), *fit);
}

TEST_CASE("ISO/TS 28037:2010 clause 10, covariance in x and y") {
    CalibrationPoints points = example("iso28037_10_ggmr");
    points.cov_x = matrix_from("iso28037_10_ggmr_Ux.csv");
    points.cov_y = matrix_from("iso28037_10_ggmr_Uy.csv");
    const auto fit = fit_polynomial(points, 1);
    REQUIRE(fit);
    check_line(PublishedTable("iso28037_10_ggmr.csv"), *fit);
}

TEST_CASE("ISO/TS 28037:2010 Annex E, unknown scale") {
    const PublishedTable table("iso28037_E_unknown_scale.csv");
    const auto fit = fit_polynomial(example("iso28037_E_unknown_scale"), 1);
    REQUIRE(fit);
    check_quantity(table, "a", fit->coefficients[0]);
    check_quantity(table, "b", fit->coefficients[1]);
    check_quantity(table, "u_a", std::sqrt(fit->covariance(0, 0)));
    check_quantity(table, "u_b", std::sqrt(fit->covariance(1, 1)));
    check_quantity(table, "cov_ab", fit->covariance(0, 1));
    check_quantity(table, "chi2", fit->chi2);
    const double residual = std::sqrt(fit->chi2 / fit->dof);
    check_quantity(table, "sigma_hat", residual);
    check_quantity(table, "u_a_scaled", residual * std::sqrt(fit->covariance(0, 0)));
    check_quantity(table, "u_b_scaled", residual * std::sqrt(fit->covariance(1, 1)));
    check_quantity(table, "cov_ab_scaled", residual * residual * fit->covariance(0, 1));
    const double posterior = std::sqrt(fit->chi2 / (fit->dof - 2));
    check_quantity(table, "sigma_tilde_best", posterior);
    check_quantity(table, "u_a_best", posterior * std::sqrt(fit->covariance(0, 0)));
    check_quantity(table, "u_b_best", posterior * std::sqrt(fit->covariance(1, 1)));
    check_quantity(table, "cov_ab_best", posterior * posterior * fit->covariance(0, 1));
}

TEST_CASE("JCGM 100:2008 H.3, thermometer calibration by ordinary least squares") {
    const PublishedTable data("gum_h3_data.csv");
    const PublishedTable table("gum_h3.csv");
    const auto check = [&](const std::string& quantity, double value) {
        CAPTURE(quantity);
        CHECK(value == Approx(table.number(quantity, "recomputed")).epsilon(recomputed_tolerance));
        CHECK(value == Approx(table.number(quantity, "published"))
                           .margin(table.number(quantity, "tolerance_for_published")));
    };
    constexpr double t0 = 20;
    const auto line = [&](double u, double common) {
        CalibrationPoints points;
        for (std::size_t i = 0; i < data.rows(); ++i) {
            points.x.push_back(data.number(i, "t_k_degC") - t0);
            points.y.push_back(data.number(i, "b_k_degC"));
        }
        points.cov_y = SquareMatrix(data.rows());
        for (std::size_t i = 0; i < data.rows(); ++i) {
            for (std::size_t j = 0; j < data.rows(); ++j)
                points.cov_y(i, j) = common * common + (i == j ? u * u : 0);
        }
        auto fit = fit_polynomial(points, 1);
        REQUIRE(fit);
        return *fit;
    };
    const FittedPolynomial unit = line(1, 0);
    const double s = std::sqrt(unit.chi2 / unit.dof);
    check("s", s);
    check("dof", unit.dof);
    const FittedPolynomial fit = line(s, 0);
    check("y1", fit.coefficients[0]);
    check("y2", fit.coefficients[1]);
    check("u_y1", std::sqrt(fit.covariance(0, 0)));
    check("u_y2", std::sqrt(fit.covariance(1, 1)));
    check("r_y1_y2", fit.covariance(0, 1) / std::sqrt(fit.covariance(0, 0) * fit.covariance(1, 1)));
    const Uncertain b30 = evaluate(fit, {30 - t0, 0});
    check("b_30degC", b30.value);
    check("u_b_30degC", b30.u);
    // H.3.6: a systematic uncertainty of 0.005 degC common to all observations acts on y1 alone.
    const FittedPolynomial with_common = line(s, 0.005);
    check("H36_u_y1_with_systematic", std::sqrt(with_common.covariance(0, 0)));
    CHECK(std::sqrt(with_common.covariance(1, 1)) == Approx(std::sqrt(fit.covariance(1, 1))).epsilon(1e-9));
}

// A problem built backwards: with points exactly on the curve any weights must give the curve back.
TEST_CASE("a polynomial whose points lie on it comes back whole") {
    constexpr double rounding_tolerance = 1e-10;
    const std::vector<double> truth = {6.2, 0.45, -0.012, 0.0004};
    for (std::size_t degree = 0; degree < truth.size(); ++degree) {
        CalibrationPoints points;
        std::vector<double> u_x;
        std::vector<double> u_y;
        for (int i = 0; i < 9; ++i) {
            const double x = 0.5 + 1.7 * i;
            double y = 0;
            for (std::size_t k = degree + 1; k-- > 0;) y = y * x + truth[k];
            points.x.push_back(x);
            points.y.push_back(y);
            u_x.push_back(0.01 * (1 + i));
            u_y.push_back(0.02 + 0.003 * i);
        }
        points.cov_x = diagonal(u_x);
        points.cov_y = diagonal(u_y);
        points.cov_xy = SquareMatrix(9);
        for (std::size_t i = 0; i < 9; ++i) points.cov_xy(i, i) = 0.5 * u_x[i] * u_y[i];
        const auto fit = fit_polynomial(points, static_cast<int>(degree));
        REQUIRE(fit);
        CAPTURE(degree);
        CHECK(fit->chi2 == Approx(0).margin(rounding_tolerance));
        for (std::size_t k = 0; k <= degree; ++k) {
            CHECK(fit->coefficients[k] == Approx(truth[k]).epsilon(rounding_tolerance));
        }
    }
}

// With covariance between x and y the fit must not depend on which scale x and y are written in, nor on the
// order of the points.
TEST_CASE("units and order of the points do not change the fit") {
    constexpr double rounding_tolerance = 1e-9;
    CalibrationPoints points = some_points();
    points.cov_xy = SquareMatrix(5);
    for (std::size_t i = 0; i < 5; ++i) {
        for (std::size_t j = 0; j < 5; ++j) points.cov_xy(i, j) = (i == j ? 0.6 : 0.1) * 0.1 * 0.2;
        for (std::size_t j = 0; j < 5; ++j) points.cov_y(i, j) += i == j ? 0 : 0.2 * 0.04;
    }
    const auto fit = fit_polynomial(points, 2);
    REQUIRE(fit);

    CalibrationPoints other = points;
    const double kx = 60;
    const double ky = 1e-3;
    for (std::size_t i = 0; i < 5; ++i) {
        const std::size_t from = (i + 2) % 5;
        other.x[i] = kx * points.x[from];
        other.y[i] = ky * points.y[from];
        for (std::size_t j = 0; j < 5; ++j) {
            const std::size_t to = (j + 2) % 5;
            other.cov_x(i, j) = kx * kx * points.cov_x(from, to);
            other.cov_y(i, j) = ky * ky * points.cov_y(from, to);
            other.cov_xy(i, j) = kx * ky * points.cov_xy(from, to);
        }
    }
    const auto refit = fit_polynomial(other, 2);
    REQUIRE(refit);
    CHECK(refit->chi2 == Approx(fit->chi2).epsilon(rounding_tolerance));
    for (std::size_t k = 0; k < 3; ++k) {
        const double unit = ky / std::pow(kx, static_cast<double>(k));
        CHECK(refit->coefficients[k] == Approx(unit * fit->coefficients[k]).epsilon(rounding_tolerance));
        CHECK(refit->covariance(k, k) ==
              Approx(unit * unit * fit->covariance(k, k)).epsilon(rounding_tolerance));
    }
}

TEST_CASE("a line that does not fit is called inconsistent") {
    CalibrationPoints points = some_points();
    points.y[2] += 3;
    const auto fit = fit_polynomial(points, 1);
    REQUIRE(fit);
    CHECK_FALSE(fit->consistent);
    CHECK(fit->chi2 > fit->chi2_limit);
}

TEST_CASE("as many points as coefficients fit exactly, without a test") {
    CalibrationPoints points;
    points.x = {1, 3};
    points.y = {2, 8};
    points.cov_y = diagonal({0.1, 0.1});
    const auto fit = fit_polynomial(points, 1);
    REQUIRE(fit);
    CHECK(fit->coefficients[0] == Approx(-1).epsilon(1e-12));
    CHECK(fit->coefficients[1] == Approx(3).epsilon(1e-12));
    CHECK(fit->dof == 0);
    CHECK(fit->consistent);
}

TEST_CASE("bad points are named") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const auto refused = [](const CalibrationPoints& points, int degree, FaultCode code,
                            const std::string& where) {
        const auto fit = fit_polynomial(points, degree);
        REQUIRE_FALSE(fit);
        CAPTURE(fit.fault().what);
        CHECK(fit.fault().code == code);
        CHECK(fit.fault().where == where);
    };
    CalibrationPoints points = some_points();
    points.y[3] = nan;
    refused(points, 1, FaultCode::not_finite, "point 4");

    points = some_points();
    points.x[0] = std::numeric_limits<double>::infinity();
    refused(points, 1, FaultCode::not_finite, "point 1");

    points = some_points();
    points.cov_y(1, 1) = nan;
    refused(points, 1, FaultCode::not_finite, "point 2");

    points = some_points();
    refused(points, 5, FaultCode::too_few_points, "calibration points");
    refused(points, 9, FaultCode::bad_value, "degree");
    refused(points, -1, FaultCode::bad_value, "degree");
    points.x = {1, 1, 1, 1, 1};
    refused(points, 1, FaultCode::too_few_points, "calibration points");

    points = some_points();
    points.cov_x = {};
    points.cov_y(2, 2) = 0;
    refused(points, 1, FaultCode::bad_covariance, "point 3");

    points = some_points();
    points.cov_y(2, 2) = -0.04;
    refused(points, 1, FaultCode::bad_covariance, "point 3");

    points = some_points();
    points.cov_y(1, 3) = 0.01;
    refused(points, 1, FaultCode::bad_covariance, "point 4");

    points = some_points();
    points.cov_y(1, 3) = points.cov_y(3, 1) = 0.05;  // correlation 1.25
    refused(points, 1, FaultCode::bad_covariance, "point 4");

    points = some_points();
    points.cov_x = {};
    points.cov_y(0, 4) = points.cov_y(4, 0) = 0.04;  // correlation 1
    refused(points, 1, FaultCode::bad_covariance, "point 5");

    points = some_points();
    points.cov_xy = SquareMatrix(5);
    points.cov_xy(1, 1) = 0.03;  // correlation 1.5
    refused(points, 1, FaultCode::bad_covariance, "point 2");

    points = some_points();
    points.cov_xy = SquareMatrix(4);
    refused(points, 1, FaultCode::bad_covariance, "covariance of x with y");

    points = some_points();
    points.y.pop_back();
    refused(points, 1, FaultCode::bad_value, "calibration points");
}

// What the others say of a point, by leaving it out: the deviation of y from the prediction, over the root of
// both variances. Baarda's w is the same number without fitting again.
TEST_CASE("normalised deviations are those of fits without the point") {
    CalibrationPoints points = some_points();
    points.cov_x = {};
    points.y = {2.3, 3.8, 6.4, 7.7, 10.3};
    const auto fit = fit_polynomial(points, 1);
    REQUIRE(fit);
    for (std::size_t left_out = 0; left_out < 5; ++left_out) {
        CalibrationPoints others;
        std::vector<double> u;
        for (std::size_t i = 0; i < 5; ++i) {
            if (i == left_out) continue;
            others.x.push_back(points.x[i]);
            others.y.push_back(points.y[i]);
            u.push_back(0.2);
        }
        others.cov_y = diagonal(u);
        const auto refit = fit_polynomial(others, 1);
        REQUIRE(refit);
        const Uncertain predicted = evaluate(*refit, {points.x[left_out], 0});
        const double w = (points.y[left_out] - predicted.value) / std::hypot(predicted.u, 0.2);
        CAPTURE(left_out);
        CHECK(fit->normalized_deviations[left_out] == Approx(w).epsilon(1e-9));
    }
}
