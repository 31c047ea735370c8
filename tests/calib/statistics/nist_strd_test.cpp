// NIST Statistical Reference Datasets: certified parameters, their standard deviations and residual sums.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "calib/statistics/curve_fit.hpp"
#include "calib/statistics/linear_fit.hpp"
#include "calib/statistics/regression.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

// Significant digits in which a value agrees with the certified one.
double digits(double value, double certified) {
    return value == certified ? 17 : -std::log10(std::fabs(value - certified) / std::fabs(certified));
}

// Points with unit uncertainty of y: the scale is unknown.
CalibrationPoints unit_points(const PublishedTable& data) {
    CalibrationPoints points;
    points.x = data.column("x");
    points.y = data.column("y");
    points.cov_y = SquareMatrix(points.x.size());
    for (std::size_t i = 0; i < points.x.size(); ++i) points.cov_y(i, i) = 1;
    return points;
}

void check_curve(const std::string& name, const CurveModel& model) {
    const PublishedTable table("nist_strd_" + name + ".csv");
    const CalibrationPoints points = unit_points(PublishedTable("nist_strd_" + name + "_data.csv"));
    std::size_t parameters = 0;
    while (parameters < table.rows() &&
           table.text(parameters, "quantity") == "b" + std::to_string(parameters + 1)) {
        ++parameters;
    }
    // start1 is the farther one.
    for (const char* column : {"start1", "start2"}) {
        CAPTURE(name, column);
        std::vector<double> start;
        for (std::size_t k = 0; k < parameters; ++k) start.push_back(table.number(k, column));
        auto fit = fit_curve(points, model, start);
        REQUIRE(fit);
        const auto scale = unknown_scale(fit->chi2, fit->dof);
        REQUIRE(scale);
        CHECK(fit->dof == table.number("dof", "certified"));
        CHECK(digits(fit->chi2, table.number("rss", "certified")) >= 9);
        CHECK(digits(scale->sigma, table.number("residual_sd", "certified")) >= 9);
        const FittedCurve scaled = with_scale(*fit, *scale);
        for (std::size_t k = 0; k < parameters; ++k) {
            CAPTURE(k);
            CHECK(digits(fit->parameters[k], table.number(k, "certified")) >= 7);
            CHECK(digits(std::sqrt(scaled.covariance(k, k)),
                         table.number("sd_b" + std::to_string(k + 1), "certified")) >= 6);
        }
    }
}

}  // namespace

TEST_CASE("Norris to nine digits and more") {
    const PublishedTable table("nist_strd_norris.csv");
    const auto fit = fit_polynomial(unit_points(PublishedTable("nist_strd_norris_data.csv")), 1);
    REQUIRE(fit);
    const auto scale = unknown_scale(fit->chi2, fit->dof);
    REQUIRE(scale);
    const FittedPolynomial scaled = with_scale(*fit, *scale);
    CHECK(digits(fit->coefficients[0], table.number("B0", "certified")) >= 9);
    CHECK(digits(fit->coefficients[1], table.number("B1", "certified")) >= 12);
    CHECK(digits(std::sqrt(scaled.covariance(0, 0)), table.number("sd_B0", "certified")) >= 9);
    CHECK(digits(std::sqrt(scaled.covariance(1, 1)), table.number("sd_B1", "certified")) >= 9);
    CHECK(digits(scale->sigma, table.number("residual_sd", "certified")) >= 9);
    CHECK(digits(fit->chi2, table.number("rss", "certified")) >= 9);
    CHECK(scale->dof == table.number("dof", "certified"));
}

TEST_CASE("Longley to nine digits") {
    const PublishedTable table("nist_strd_longley.csv");
    const PublishedTable data("nist_strd_longley_data.csv");
    Design design{data.rows(), 7, {}};
    for (std::size_t i = 0; i < data.rows(); ++i) {
        design.values.push_back(1);
        for (int k = 1; k <= 6; ++k) design.values.push_back(data.number(i, "x" + std::to_string(k)));
    }
    const auto fit = fit_linear(design, data.column("y"));
    REQUIRE(fit);
    const auto scale = unknown_scale(fit->chi2, fit->dof);
    REQUIRE(scale);
    for (std::size_t k = 0; k < 7; ++k) {
        CAPTURE(k);
        CHECK(digits(fit->parameters[k], table.number("B" + std::to_string(k), "certified")) >= 9);
        CHECK(digits(scale->sigma * std::sqrt(fit->covariance(k, k)),
                     table.number("sd_B" + std::to_string(k), "certified")) >= 9);
    }
    CHECK(digits(scale->sigma, table.number("residual_sd", "certified")) >= 9);
    CHECK(digits(fit->chi2, table.number("rss", "certified")) >= 9);
}

TEST_CASE("Misra1a from both starts") {
    CurveModel model;
    model.value = [](double x, std::span<const double> b) { return b[0] * (1 - std::exp(-b[1] * x)); };
    check_curve("misra1a", model);  // derivatives by differences
    model.gradient = [](double x, std::span<const double> b, std::span<double> g) {
        g[0] = 1 - std::exp(-b[1] * x);
        g[1] = b[0] * x * std::exp(-b[1] * x);
    };
    check_curve("misra1a", model);
}

TEST_CASE("Thurber from both starts") {
    CurveModel model;
    model.value = [](double x, std::span<const double> b) {
        return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1 + x * (b[4] + x * (b[5] + x * b[6])));
    };
    check_curve("thurber", model);
    model.gradient = [](double x, std::span<const double> b, std::span<double> g) {
        const double top = b[0] + x * (b[1] + x * (b[2] + x * b[3]));
        const double bottom = 1 + x * (b[4] + x * (b[5] + x * b[6]));
        double power = 1;
        for (std::size_t k = 0; k < 4; ++k, power *= x) g[k] = power / bottom;
        power = x;
        for (std::size_t k = 4; k < 7; ++k, power *= x) g[k] = -top * power / (bottom * bottom);
    };
    check_curve("thurber", model);
}

TEST_CASE("DanWood, a power law, from both starts and from its own") {
    check_curve("danwood", power_law());
    const PublishedTable table("nist_strd_danwood.csv");
    const auto fit = fit_power_law(unit_points(PublishedTable("nist_strd_danwood_data.csv")));
    REQUIRE(fit);
    CHECK(digits(fit->parameters[0], table.number("b1", "certified")) >= 7);
    CHECK(digits(fit->parameters[1], table.number("b2", "certified")) >= 7);
}
