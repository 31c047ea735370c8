// NIST Statistical Reference Datasets: certified parameters, their standard deviations and residual sums.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

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
}  // namespace

TEST_CASE("Norris to nine digits and more") {
    const PublishedTable table("nist_strd_norris.csv");
    const auto fit = fit_polynomial(unit_points(PublishedTable("nist_strd_norris_data.csv")), 1);
    REQUIRE(fit);
    const double residual_sd = std::sqrt(fit->chi2 / fit->dof);
    CHECK(digits(fit->coefficients[0], table.number("B0", "certified")) >= 9);
    CHECK(digits(fit->coefficients[1], table.number("B1", "certified")) >= 12);
    CHECK(digits(residual_sd * std::sqrt(fit->covariance(0, 0)), table.number("sd_B0", "certified")) >= 9);
    CHECK(digits(residual_sd * std::sqrt(fit->covariance(1, 1)), table.number("sd_B1", "certified")) >= 9);
    CHECK(digits(residual_sd, table.number("residual_sd", "certified")) >= 9);
    CHECK(digits(fit->chi2, table.number("rss", "certified")) >= 9);
    CHECK(fit->dof == table.number("dof", "certified"));
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
    const double residual_sd = std::sqrt(fit->chi2 / fit->dof);
    for (std::size_t k = 0; k < 7; ++k) {
        CAPTURE(k);
        CHECK(digits(fit->parameters[k], table.number("B" + std::to_string(k), "certified")) >= 9);
        CHECK(digits(residual_sd * std::sqrt(fit->covariance(k, k)),
                     table.number("sd_B" + std::to_string(k), "certified")) >= 9);
    }
    CHECK(digits(residual_sd, table.number("residual_sd", "certified")) >= 9);
    CHECK(digits(fit->chi2, table.number("rss", "certified")) >= 9);
}
