#include "calib/statistics/budget.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <string>

#include "tests/calib/published_table.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::PublishedTable;

namespace {

// Inputs of the end-gauge example, with the comparator's three parts already combined to d.
std::vector<BudgetInput> end_gauge(const PublishedTable& table) {
    std::vector<BudgetInput> inputs;
    for (const char* name : {"ls", "d_repeat", "d_random", "d_systematic", "alpha_s", "theta_bar", "Delta",
                             "delta_alpha", "delta_theta"}) {
        for (std::size_t row = 0; row < table.rows(); ++row) {
            if (table.text(row, "quantity") == name) {
                inputs.push_back({name,
                                  {table.number(row, "estimate"), table.number(row, "standard_uncertainty"),
                                   table.number(row, "dof")}});
            }
        }
    }
    REQUIRE(inputs.size() == 9);
    return inputs;
}

// JCGM 100:2008 eq. (H.2), with d in three parts; ls in the products is the nominal 5e7 nm.
double end_gauge_length(std::span<const double> x) {
    constexpr double nominal = 5e7;
    return x[0] + x[1] + x[2] + x[3] - nominal * (x[7] * (x[5] + x[6]) + x[4] * x[8]);
}

void check(const PublishedTable& table, const std::string& quantity, double value,
           double recomputed_tolerance = 5e-8) {
    CAPTURE(quantity);
    CHECK(value == Approx(table.number(quantity, "recomputed")).epsilon(recomputed_tolerance));
    if (table.has(quantity, "published") && quantity != "nu_eff_d" && quantity != "nu_eff_l") {
        CHECK(value ==
              Approx(table.number(quantity, "published")).margin(table.half_digit(quantity, "published")));
    }
}

double mean_of(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

// Covariance of the means of two simultaneous series, JCGM 100:2008 eq. (17).
double covariance_of_means(const std::vector<double>& a, const std::vector<double>& b) {
    double sum = 0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += (a[i] - mean_of(a)) * (b[i] - mean_of(b));
    const auto n = static_cast<double>(a.size());
    return sum / (n * (n - 1));
}

}  // namespace

TEST_CASE("JCGM 100:2008 H.1, end-gauge calibration") {
    const PublishedTable table("gum_h1_results.csv");
    const auto inputs = end_gauge(PublishedTable("gum_h1.csv"));
    const auto first = propagate(inputs, end_gauge_length);
    REQUIRE(first);
    check(table, "l", first->result.value);
    check(table, "uc_l", first->result.u);
    check(table, "u_delta_alpha", std::fabs(first->contributions[7]));
    check(table, "u_delta_theta", std::fabs(first->contributions[8]));
    const double d[] = {5.8, 3.9, 6.7};
    const double d_dof[] = {24, 5, 8};
    check(table, "u_d", std::hypot(d[0], d[1], d[2]));
    check(table, "nu_eff_d", welch_satterthwaite(d, d_dof));

    // The GUM combines d first and then the four contributions.
    const std::vector<BudgetInput> combined = {
        {"ls", {50000623, 25, 18}},
        {"d", {215, std::hypot(5.8, 3.9, 6.7), welch_satterthwaite(d, d_dof)}},
        {"delta_alpha", {0, std::fabs(first->contributions[7]), 50}},
        {"delta_theta", {0, std::fabs(first->contributions[8]), 2}}};
    const auto two_stages = propagate(combined, 50000838, {1, 1, 1, 1});
    REQUIRE(two_stages);
    check(table, "nu_eff_l", two_stages->result.dof);
    CHECK(std::floor(two_stages->result.dof) == table.number("nu_eff_l", "published"));
    // In one stage the formula gives the same, since it adds fourth powers.
    CHECK(first->result.dof == Approx(two_stages->result.dof).epsilon(1e-8));
    const Expanded U99 = expanded({first->result.value, 32, 16}, 0.99);
    CHECK(U99.U == Approx(table.number("U99_from_rounded", "published")).margin(0.5));

    PropagationOptions options;
    options.second_order = true;
    const auto second = propagate(inputs, end_gauge_length, options);
    REQUIRE(second);
    // H.1.7: products of the uncertainties whose first-order terms vanish.
    const double alpha_theta = 5e7 * (1e-6 / std::sqrt(3.0)) * std::hypot(0.2, 0.5 / std::sqrt(2.0));
    const double alpha_s_delta = 5e7 * (2e-6 / std::sqrt(3.0)) * (0.05 / std::sqrt(3.0));
    check(table, "second_order_delta_alpha_theta", alpha_theta);
    check(table, "second_order_alpha_s_delta_theta", alpha_s_delta);
    CHECK(std::sqrt(second->second_order_variance) ==
          Approx(std::hypot(alpha_theta, alpha_s_delta)).epsilon(1e-6));
    check(table, "uc_l_with_second_order", second->result.u, 1e-6);
}

// JCGM 101:2008 9.3: first order loses the density of air, whose sensitivity vanishes at the estimates.
TEST_CASE("second-order terms of the mass calibration, JCGM 101:2008 9.3.2") {
    const PublishedTable table("jcgm101.csv");
    const double root3 = std::sqrt(3.0);
    const std::vector<BudgetInput> inputs = {{"mRc", {100000, 0.050}},
                                             {"dmRc", {1.234, 0.020}},
                                             {"rhoa", {1.20, 0.10 / root3}},
                                             {"rhoW", {8000, 1000 / root3}},
                                             {"rhoR", {8000, 50 / root3}}};
    const Model model = [](std::span<const double> x) {
        return (x[0] + x[1]) * (1 + (x[2] - 1.2) * (1 / x[3] - 1 / x[4])) - 100000;
    };
    const auto u_printed = [&](const std::string& method) {
        for (std::size_t i = 0; i < table.rows(); ++i) {
            if (table.text(i, "method") == method) return table.number(i, "u");
        }
        return 0.0;
    };
    const auto first = propagate(inputs, model);
    REQUIRE(first);
    CHECK(first->result.u == Approx(u_printed("GUF1_recomputed")).epsilon(1e-6));
    CHECK(first->result.u == Approx(u_printed("GUF1")).margin(0.00005));
    PropagationOptions options;
    options.second_order = true;
    const auto second = propagate(inputs, model, options);
    REQUIRE(second);
    // Differences over a tenth of u = 577 kg/m3 carry 1e-4 of the curvature term.
    CHECK(second->result.u == Approx(u_printed("GUF2_recomputed")).epsilon(2e-4));
    CHECK(second->result.u == Approx(u_printed("GUF2")).margin(0.00005));
}

// JCGM 100:2008 H.2, table H.2 to H.4 (from memory): resistance, reactance and impedance from simultaneous
// observations of voltage, current and phase.
TEST_CASE("correlated inputs and results, JCGM 100:2008 H.2") {
    const std::vector<double> V = {5.007, 4.994, 5.005, 4.990, 4.999};
    const std::vector<double> I = {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3};
    const std::vector<double> phi = {1.0456, 1.0438, 1.0468, 1.0428, 1.0433};
    const std::vector<const std::vector<double>*> series = {&V, &I, &phi};
    std::vector<BudgetInput> inputs;
    PropagationOptions options;
    options.correlation = SquareMatrix(3);
    for (std::size_t i = 0; i < 3; ++i) {
        inputs.push_back({"VIp" + std::to_string(i),
                          {mean_of(*series[i]), std::sqrt(covariance_of_means(*series[i], *series[i])), 4}});
        for (std::size_t j = 0; j < 3; ++j) {
            options.correlation(i, j) = covariance_of_means(*series[i], *series[j]) /
                                        std::sqrt(covariance_of_means(*series[i], *series[i]) *
                                                  covariance_of_means(*series[j], *series[j]));
        }
    }
    CHECK(options.correlation(0, 1) == Approx(-0.36).margin(0.005));
    CHECK(options.correlation(0, 2) == Approx(0.86).margin(0.005));
    CHECK(options.correlation(1, 2) == Approx(-0.65).margin(0.005));
    const auto R = propagate(
        inputs, [](auto x) { return x[0] / x[1] * std::cos(x[2]); }, options);
    const auto X = propagate(
        inputs, [](auto x) { return x[0] / x[1] * std::sin(x[2]); }, options);
    const auto Z = propagate(
        inputs, [](auto x) { return x[0] / x[1]; }, options);
    REQUIRE(R);
    REQUIRE(X);
    REQUIRE(Z);
    CHECK(R->result.value == Approx(127.732).margin(0.0005));
    CHECK(R->result.u == Approx(0.071).margin(0.0005));
    CHECK(X->result.value == Approx(219.847).margin(0.0005));
    CHECK(X->result.u == Approx(0.295).margin(0.0006));  // 0.29558, printed cut off
    CHECK(Z->result.value == Approx(254.260).margin(0.0005));
    CHECK(Z->result.u == Approx(0.236).margin(0.0005));
    const auto r = [&](const Propagated& a, const Propagated& b) {  // clause F.1.2.3
        double covariance = 0;
        for (std::size_t i = 0; i < 3; ++i)
            for (std::size_t j = 0; j < 3; ++j)
                covariance += a.contributions[i] * b.contributions[j] * options.correlation(i, j);
        return covariance / (a.result.u * b.result.u);
    };
    CHECK(r(*R, *X) == Approx(-0.588).margin(0.0005));
    CHECK(r(*R, *Z) == Approx(-0.485).margin(0.0005));
    CHECK(r(*X, *Z) == Approx(0.993).margin(0.0005));
    // One group of simultaneous observations: 4 degrees of freedom, as its series have.
    CHECK(R->result.dof == Approx(4));
}

TEST_CASE("sensitivities are the derivatives") {
    const std::vector<BudgetInput> inputs = {{"m", {251.3, 0.02}}, {"d", {200, 0.1}}, {"t", {600, 0}}};
    const auto result = propagate(inputs, [](auto x) { return x[0] / (x[1] * x[1] * x[2]); });
    REQUIRE(result);
    const double value = 251.3 / (200.0 * 200 * 600);
    CHECK(result->sensitivities[0] == Approx(value / 251.3).epsilon(1e-8));
    CHECK(result->sensitivities[1] == Approx(-2 * value / 200).epsilon(1e-8));
    CHECK(result->sensitivities[2] == Approx(-value / 600).epsilon(1e-8));
    CHECK(result->contributions[2] == 0);
    CHECK(result->result.dof == infinite_dof);
}

TEST_CASE("budgets that cannot be are refused by name") {
    const Model model = [](auto x) { return std::sqrt(x[0]) + x[1]; };
    const auto refused = [&](std::vector<BudgetInput> inputs, FaultCode code, const std::string& where,
                             PropagationOptions options = {}) {
        const auto result = propagate(inputs, model, options);
        REQUIRE_FALSE(result);
        CHECK(result.fault().code == code);
        CHECK(result.fault().where == where);
    };
    refused({}, FaultCode::bad_value, "budget");
    refused({{"a", {1, 0.1}}, {"b", {std::nan(""), 1}}}, FaultCode::not_finite, "b");
    refused({{"a", {1, -0.1}}, {"b", {1, 1}}}, FaultCode::bad_value, "a");
    refused({{"a", {1, 0.1, 0}}, {"b", {1, 1}}}, FaultCode::bad_value, "a");
    refused({{"a", {0, 0.1}}, {"b", {1, 1}}}, FaultCode::not_finite, "a");
    PropagationOptions options;
    options.correlation = SquareMatrix(2);
    options.correlation.values = {1, 1.2, 1.2, 1};
    refused({{"a", {1, 0.1}}, {"b", {1, 1}}}, FaultCode::bad_covariance, "input 2", options);
    options.correlation.values = {1, 0.2, 0.2, 2};
    refused({{"a", {1, 0.1}}, {"b", {1, 1}}}, FaultCode::bad_covariance, "b", options);
    options.correlation.values = {1, 0.2, 0.2, 1};
    options.second_order = true;
    refused({{"a", {1, 0.1}}, {"b", {1, 1}}}, FaultCode::bad_value, "budget", options);
}
