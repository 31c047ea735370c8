#include "calib/decision/decision.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <string>

#include "calib/statistics/distributions.hpp"
#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
// Eight digits are kept in the recomputed column.
constexpr double recomputed_tolerance = 1e-7;

Prior gamma_prior(double shape, double scale) {
    const auto density = [=](double x) {
        return x > 0 ? std::exp((shape - 1) * std::log(x) - x / scale - std::lgamma(shape)) /
                           std::pow(scale, shape)
                     : 0.0;
    };
    return {density, 0, 800 * scale, shape * scale, std::sqrt(shape) * scale};
}

struct Row {
    double published;
    double recomputed;
    double half_digit;
};

Row row_of(const std::string& example, const std::string& quantity) {
    const PublishedTable table("decision_rules.csv");
    for (std::size_t i = 0; i < table.rows(); ++i) {
        if (table.text(i, "example") == example && table.text(i, "quantity") == quantity) {
            const std::string& printed = table.text(i, "published");
            const std::size_t point = printed.find('.');
            const auto decimals =
                point == std::string::npos ? 0.0 : static_cast<double>(printed.size() - point - 1);
            return {table.number(i, "published"), table.number(i, "recomputed"),
                    0.5000001 * std::pow(10, -decimals)};
        }
    }
    throw std::runtime_error("no row " + example + ": " + quantity);
}

void check(const std::string& example, const std::string& quantity, double value) {
    const Row row = row_of(example, quantity);
    CAPTURE(example, quantity);
    CHECK(value == Approx(row.recomputed).epsilon(recomputed_tolerance));
    CHECK(value == Approx(row.published).margin(row.half_digit));
}

}  // namespace

TEST_CASE("conformance probabilities of JCGM 106:2012 clause 7") {
    check("JCGM106_one_sided_upper", "conformance probability",
          conformance_probability({-5.47, 0.05}, {-infinite, -5.40}));
    check("JCGM106_one_sided_lower", "conformance probability",
          conformance_probability({507.1, 8.6}, {490, infinite}));
    check("JCGM106_two_sided", "conformance probability", conformance_probability({13.6, 1.8}, {12.5, 16.3}));
}

TEST_CASE("conformance probability follows the degrees of freedom and the far tails") {
    CHECK(conformance_probability({0, 1, 4}, {-2.776445105, 2.776445105}) == Approx(0.95).epsilon(1e-9));
    CHECK(conformance_probability({10, 1}, {-infinite, 0}) == Approx(normal_cumulative(-10)).epsilon(1e-12));
    CHECK(conformance_probability({1, 0}, {0, 1}) == 1);
    CHECK(conformance_probability({1.1, 0}, {0, 1}) == 0);
    CHECK(conformance_probability({3, 1}, {}) == 1);
}

// JCGM 106:2012 clause 8.3.3.2: a speed is above the limit with 99.9 % confidence from limit + w; w = 3.09 u
// at 106.6.
TEST_CASE("guard band for a speed limit") {
    const Row row = row_of("JCGM106_speed_guard_band", "acceptance threshold km/h (limit + guard band 7)");
    double threshold = 100;
    for (int i = 0; i < 100; ++i) threshold = 100 + guard_band_for_specific_risk(0.02 * threshold, 0.001);
    CHECK(threshold == Approx(row.recomputed).epsilon(recomputed_tolerance));
    CHECK(std::ceil(threshold) == row.published);  // printed rounded up
}

TEST_CASE("ball bearings, JCGM 106:2012 clause 9.5.4") {
    const std::string example = "JCGM106_9.5.4_ball_bearing";
    const Prior prior = gamma_prior(4, 0.25);
    const ToleranceInterval tolerance{-infinite, 2};
    const auto risk = global_risk(prior, 0.25, tolerance, tolerance);
    REQUIRE(risk);
    check(example, "probability nonconforming before inspection", risk->nonconforming);
    check(example, "global consumer risk (false accept)", risk->consumer);
    CHECK(risk->accepted - risk->consumer + risk->producer + risk->nonconforming == Approx(1).epsilon(1e-9));
    // The guard band that leaves a consumer's risk of 0.1 %, halved down to.
    double w = 0;
    for (double half = 1; half > 1e-12; half /= 2)
        if (global_risk(prior, 0.25, tolerance, {-infinite, 2 - w - half})->consumer > 0.001) w += half;
    check(example, "guard band um", w);
    check(example, "acceptance limit um", 2 - w);
    const auto guarded = global_risk(prior, 0.25, tolerance, {-infinite, 2 - w});
    REQUIRE(guarded);
    CHECK(guarded->producer > risk->producer);
}

// Normal prior about the limit itself: both signs are equally likely, and the two measured against each other
// are a quadrant of the bivariate normal distribution: 1/4 - arcsin(rho)/(2 pi).
TEST_CASE("global risk of a limit at the middle of a normal prior") {
    for (const double u : {0.1, 0.5, 2.0}) {
        const auto risk = global_risk(normal_prior(5, 1), u, {-infinite, 5}, {-infinite, 5});
        REQUIRE(risk);
        const double rho = 1 / std::sqrt(1 + u * u);
        const double exact = 0.25 - std::asin(rho) / (2 * std::numbers::pi);
        CAPTURE(u);
        CHECK(risk->nonconforming == Approx(0.5).epsilon(1e-9));
        CHECK(risk->consumer == Approx(exact).epsilon(1e-9));
        CHECK(risk->producer == Approx(exact).epsilon(1e-9));
        CHECK(risk->accepted == Approx(0.5).epsilon(1e-9));
    }
}

TEST_CASE("a rectangular prior within the limits has no consumer's risk") {
    const auto risk =
        global_risk({[](double x) { return std::abs(x) <= 1 ? 0.5 : 0.0; }, -1, 1, 0, 1 / std::sqrt(3.0)},
                    0.5, {-2, 2}, {-2, 2});
    REQUIRE(risk);
    CHECK(risk->nonconforming == Approx(0).margin(1e-12));
    CHECK(risk->consumer == Approx(0).margin(1e-12));
    // Mean over the prior of the normal tail beyond the limit, by its closed integral.
    const auto tail_integral = [](double z) {
        return std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi) - z * normal_cumulative(-z);
    };
    const double producer = 2 * 0.5 / 2 * (tail_integral(2) - tail_integral(6));
    CHECK(risk->producer == Approx(producer).epsilon(1e-9));
}

TEST_CASE("ILAC-G8:09/2019 guard bands and the risk they leave") {
    const PublishedTable table("decision_rules.csv");
    const struct {
        const char* example;
        double times_U;
        double k;
    } cases[] = {{"ILAC_G8_2019_simple_acceptance", 0, 2},
                 {"ILAC_G8_2019_iso14253", 0.83, 2},
                 {"ILAC_G8_2019_3sigma", 1.5, 2},
                 {"ILAC_G8_2019_6sigma", 3, 2}};
    for (const auto& c : cases) {
        const Row row = row_of(c.example, "specific false accept probability upper bound");
        CAPTURE(c.example);
        CHECK(specific_risk_bound(c.times_U, c.k) == Approx(row.recomputed).epsilon(recomputed_tolerance));
        CHECK(specific_risk_bound(c.times_U, c.k) <= row.published + row.half_digit);
    }
    // w = U with k = 1.96: 2.5 %.
    CHECK(specific_risk_bound(1, normal_quantile(0.975)) == Approx(0.025).epsilon(1e-9));
    CHECK(guard_band_for_specific_risk(0.5, 0.025) == Approx(0.5 * normal_quantile(0.975)).epsilon(1e-12));
}

TEST_CASE("impossible decisions are refused") {
    const Prior prior = normal_prior(0, 1);
    CHECK(global_risk(prior, 0, {-1, 1}, {-1, 1}).fault().code == FaultCode::bad_value);
    CHECK(global_risk(prior, 0.1, {1, -1}, {-1, 1}).fault().where == "tolerance");
    CHECK(global_risk({[](double) { return 0.5; }, 0, 1, 0.5, 0.3}, 0.1, {0, 1}, {0, 1}).fault().where ==
          "prior");
    CHECK(global_risk({}, 0.1, {0, 1}, {0, 1}).fault().where == "prior");
}
