#include "calib/laboratory/control_chart.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "calib/statistics/distributions.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

bool has(const ControlChart& chart, ControlRule rule, std::size_t at) {
    for (const auto& signal : chart.signals)
        if (signal.rule == rule && signal.at == at) return true;
    return false;
}

ControlSettings standard() {
    ControlSettings out;
    out.centre = 0;
    out.sd = 1;
    return out;
}

}  // namespace

TEST_CASE("control chart: single values of the e-Handbook", "[laboratory]") {
    // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory): mean 50.81, mean moving range
    // 1.8778, limits 55.8041 and 45.8159.
    ControlSettings settings;
    settings.baseline = 10;
    settings.widen = false;
    const auto chart = control_chart({49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}, settings);
    REQUIRE(chart);
    CHECK(chart->centre == Approx(50.81));
    CHECK(chart->sd == Approx(1.8778 / 1.128).epsilon(1e-4));
    CHECK(chart->centre + chart->limit == Approx(55.8041).epsilon(1e-5));
    CHECK(chart->centre - chart->limit == Approx(45.8159).epsilon(1e-5));
}

TEST_CASE("control chart: weighted means of the e-Handbook", "[laboratory]") {
    // The same, 6.3.2.4 (from memory): lambda 0.3, mean 50, s 2.0539; limits far from the start 52.5884 and
    // 47.4115; the last weighted means 51.23, 51.94, 51.99.
    ControlSettings settings;
    settings.centre = 50;
    settings.sd = 2.0539;
    settings.lambda = 0.3;
    settings.L = 3;
    settings.runs_rules = false;
    const auto chart = control_chart({52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                      49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1},
                                     settings);
    REQUIRE(chart);
    CHECK(50 + chart->weighted_limit.back() == Approx(52.5884).margin(2e-3));
    CHECK(50 - chart->weighted_limit.back() == Approx(47.4115).margin(2e-3));
    CHECK(chart->weighted[0] == Approx(50.60).margin(0.005));
    CHECK(chart->weighted[1] == Approx(49.52).margin(0.005));
    CHECK(chart->weighted[17] == Approx(51.23).margin(0.006));
    CHECK(chart->weighted[18] == Approx(51.94).margin(0.006));
    CHECK(chart->weighted[19] == Approx(51.99).margin(0.006));
    CHECK(chart->signals.empty());
}

TEST_CASE("control chart: each rule, where it is complete and not before", "[laboratory]") {
    ControlSettings settings = standard();
    settings.weighted_mean = false;
    const auto of = [&](const std::vector<double>& values) { return *control_chart(values, settings); };
    CHECK(has(of({0, 3.1}), ControlRule::beyond_limit, 1));
    CHECK(of({0, 2.9}).signals.empty());
    CHECK(has(of({2.1, 0, 2.1}), ControlRule::two_of_three, 2));
    CHECK(of({2.1, 0, -2.1}).signals.empty());
    CHECK(of({2.1, 0, 0, 2.1}).signals.empty());
    CHECK(has(of({-1.1, -1.1, 0, -1.1, -1.1}), ControlRule::four_of_five, 4));
    CHECK(of({-1.1, -1.1, 0, 0, -1.1, -1.1}).signals.empty());
    CHECK(has(of({.1, .1, .1, .1, .1, .1, .1, .1}), ControlRule::eight_in_a_row, 7));
    CHECK(of({.1, .1, .1, .1, .1, .1, .1}).signals.empty());
    // Back within: the signal is of the value before, the bench is not out of control now.
    const auto back = of({0, -3.5, 0});
    REQUIRE(back.signals.size() == 1);
    CHECK_FALSE(back.signals[0].above);
    CHECK_FALSE(back.alarm());
    CHECK(of({0, -3.5}).alarm());
}

TEST_CASE("control chart: few values set wide limits, none are set by too few", "[laboratory]") {
    const std::vector<double> five{1.0, 1.2, 0.9, 1.1, 1.0};
    const auto few = control_chart(five);
    REQUIRE(few);
    // t(1 - 0.00135; 0.605 (n - 1)) sqrt(1 + 1/n), integrated by another program: 14.2105 and 3.0711.
    CHECK(few->limit / few->sd == Approx(14.2105).epsilon(1e-5));
    std::vector<double> many;
    for (int i = 0; i < 200; ++i) many.push_back(five[static_cast<std::size_t>(i % 5)]);
    ControlSettings settings;
    settings.baseline = 200;
    CHECK(control_chart(many, settings)->limit / control_chart(many, settings)->sd ==
          Approx(3.0711).epsilon(1e-4));
    CHECK(control_chart({1, 2, 3, 4}).fault().code == FaultCode::too_few_points);
    CHECK(control_chart({1, 1, 1, 1, 1}).fault().code == FaultCode::bad_value);
    CHECK(control_chart({1, 2, std::nan(""), 4, 5}).fault().code == FaultCode::not_finite);
    settings = standard();
    settings.sd = -1;
    CHECK(control_chart({1}, settings).fault().code == FaultCode::bad_value);
    settings.sd.reset();
    CHECK(control_chart({1}, settings).fault().code == FaultCode::bad_value);
}

TEST_CASE("control chart: weights, widths and spreads that are none are refused", "[laboratory]") {
    const auto refused = [](double lambda, double L, double centre, double sd) {
        ControlSettings settings = standard();
        settings.lambda = lambda;
        settings.L = L;
        settings.centre = centre;
        settings.sd = sd;
        const auto chart = control_chart({0, 1}, settings);
        return !chart && chart.fault().code == FaultCode::bad_value;
    };
    // With a weight of 1 the weighted mean is the last value: Shewhart's own chart.
    CHECK_FALSE(refused(1, 3, 0, 1));
    CHECK_FALSE(refused(0.05, 2.7, 0, 1));
    CHECK(refused(1.01, 3, 0, 1));
    CHECK(refused(0, 3, 0, 1));
    CHECK(refused(std::nan(""), 3, 0, 1));
    CHECK(refused(0.2, 0, 0, 1));
    CHECK(refused(0.2, 3, 0, 0));
    ControlSettings flat = standard();
    flat.sd = 0;
    CHECK(control_chart({0, 1}, flat).fault().what.find("spread given") != std::string::npos);
    CHECK(refused(0.2, 3, 0, std::numeric_limits<double>::infinity()));
    CHECK(refused(0.2, 3, std::nan(""), 1));
}

TEST_CASE("control chart: what can hide amid the values that set the limits", "[laboratory]") {
    const auto known = control_chart({0.1, 0.2, -0.1}, standard());
    REQUIRE(known);
    CHECK(hidden_move(*known) == 0);
    // A move as large as is said of a spread of 1 is told of in four of five.
    std::mt19937_64 random(20261130);
    std::normal_distribution<double> normal;
    for (const std::size_t n : {6U, 10U, 20U}) {
        const double dof = static_cast<double>(n - 2);
        const double tail = student_quantile(1 - control_tail, dof),
                     half = std::sqrt(4 / static_cast<double>(n));
        // Two halves about which everything is known: spread 1 in each.
        ControlChart known_spread;
        known_spread.baseline = n;
        const double apart = std::sqrt(dof / static_cast<double>(n));
        for (std::size_t i = 0; i < n; ++i) known_spread.values.push_back(i % 2 == 0 ? apart : -apart);
        if (n / 2 % 2 == 1) known_spread.values[n / 2 - 1] = known_spread.values[n - 1] = 0;
        double squares_known = 0;
        for (const double v : known_spread.values) squares_known += v * v;
        const double move = hidden_move(known_spread) / std::sqrt(squares_known / dof);
        int told = 0;
        constexpr int runs = 4000;
        for (int run = 0; run < runs; ++run) {
            std::vector<double> values(n);
            double means[2] = {0, 0}, squares = 0;
            for (std::size_t i = 0; i < n; ++i) {
                values[i] = normal(random) + (2 * i < n ? 0 : move);
                means[2 * i < n ? 0 : 1] += values[i] / (static_cast<double>(n) / 2);
            }
            for (std::size_t i = 0; i < n; ++i) squares += std::pow(values[i] - means[2 * i < n ? 0 : 1], 2);
            told += std::abs(means[1] - means[0]) > tail * std::sqrt(squares / dof) * half ? 1 : 0;
        }
        INFO(n);
        CHECK(static_cast<double>(told) / runs == Approx(0.8).margin(0.06));
    }
}
