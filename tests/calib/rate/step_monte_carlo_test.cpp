#include "calib/rate/step_monte_carlo.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/statistics/distributions.hpp"
#include "calib/weighing/water.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

StepResult step_of(const BenchMetrology& bench, double water_temperature_C = 20, double scatter_dof = 19) {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    StepObservation observation;
    observation.step = 3;
    observation.tips = 40;
    observation.duration_s = 600;
    observation.balance_difference_g = 250.6;
    observation.weighing_scatter_u_g = 0.01;
    observation.scatter = {0.8, scatter_dof, "intervals"};
    observation.conditions.water_temperature_C = water_temperature_C;
    const auto result = evaluate_step(observation, gauge, bench);
    REQUIRE(result);
    return *result;
}

BenchMetrology usual_bench() {
    BenchMetrology bench;
    bench.evaporation_g_h = {0.3, 0.1, infinite_dof};
    return bench;
}

}  // namespace

TEST_CASE("Monte Carlo confirms the budget of an ordinary step") {
    BenchMetrology bench = usual_bench();
    // Standard deviations known from few readings make the interval wider than U by Welch and Satterthwaite:
    // the check to two digits of U is made to tell.
    const StepResult of_few = step_of(bench);
    const auto wider = monte_carlo_of(of_few);
    REQUIRE(wider);
    CHECK_FALSE(wider->error_validation.valid);
    CHECK(wider->error_percent.intervals.symmetric.high >
          of_few.error_percent.value + of_few.error_expanded.U);
    bench.balance.repeatability_dof = infinite_dof;
    const StepResult step = step_of(bench, 20, 59);
    const auto check = monte_carlo_of(step);
    REQUIRE(check);
    CHECK(check->stable);
    CHECK(check->error_validation.valid);
    CHECK(check->volume_validation.valid);
    CHECK(check->error_percent.mean == Approx(step.error_percent.value).margin(0.01 * step.error_percent.u));
    // Student's t of 59 degrees of freedom is wider than its scale.
    CHECK(check->error_percent.u > step.error_percent.u);
    CHECK(check->error_percent.u == Approx(step.error_percent.u).epsilon(0.02));
    CHECK(check->error_percent.intervals.symmetric.high ==
          Approx(step.error_percent.value + step.error_expanded.U).margin(check->error_validation.tolerance));
    CHECK(check->volume_per_tip_mL.mean == Approx(step.volume_per_tip_mL.value).epsilon(1e-4));
}

// e = A h/v - 1: with only a normal influence on the volume, of 10 %, 1 + e is the inverse of a normal
// quantity. Its interval is then that of the inverse, known exactly, and far from e +- U.
TEST_CASE("a large uncertainty of the volume shows the model's curvature") {
    StepResult step = step_of(usual_bench());
    step.budget = {
        {"measure", "measure", "1", 1, 0.1, Distribution::normal, infinite_dof, 1, 0, 0, 0, "measure"}};
    const double ratio = 1 + step.error_percent.value / 100;
    step.error_percent = {step.error_percent.value, 100 * ratio * 0.1};
    step.volume_per_tip_mL.u = step.volume_per_tip_mL.value * 0.1;
    step.volume_per_tip_mL.dof = infinite_dof;
    step.error_expanded = expanded(step.error_percent);
    StepMonteCarloOptions options;
    options.adaptive = false;
    options.max_trials = 1'000'000;
    options.significant_digits = 2;
    const auto check = monte_carlo_of(step);
    REQUIRE(check);
    const double z = normal_quantile(0.975);
    constexpr double sampling = 0.01;  // per cent of 1 + e; 1e6 trials scatter by 2.7 u/1000 at an end
    CHECK(check->error_percent.intervals.symmetric.low ==
          Approx(100 * (ratio / (1 + 0.1 * z) - 1)).margin(10 * sampling));
    CHECK(check->error_percent.intervals.symmetric.high ==
          Approx(100 * (ratio / (1 - 0.1 * z) - 1)).margin(15 * sampling));
    CHECK_FALSE(check->error_validation.valid);
    CHECK(check->volume_validation.valid);  // v itself is linear in it
}

// A single rectangular component: the 95 % interval is 0.95 of its width, not 1.96 u.
TEST_CASE("a rectangular component alone is not normal") {
    StepResult step = step_of(usual_bench());
    step.budget = {
        {"balance_linearity", "linearity", "g", 1, 0.5, Distribution::rectangular, infinite_dof, 1 / 250.6}};
    step.volume_per_tip_mL = {6.28, 6.28 * 0.5 / 250.6};
    step.error_percent.u = 100 * 0.5 / 250.6;
    step.error_expanded = expanded(step.error_percent);
    const auto check = monte_carlo_of(step);
    REQUIRE(check);
    const double half_width = 6.28 * 0.5 * std::sqrt(3.0) / 250.6;
    CHECK(check->volume_per_tip_mL.intervals.symmetric.high ==
          Approx(6.28 + 0.95 * half_width).epsilon(1e-4));
    CHECK(check->volume_validation.d_high > 0);
}

// At 3.98 degC the density has no slope: only the curvature is left, and the Monte Carlo sees it.
TEST_CASE("water temperature acts through the density itself") {
    constexpr double densest_C = 3.983035;
    constexpr double u_C = 2;
    StepResult step = step_of(usual_bench(), densest_C);
    step.budget = {{"water_temperature", "water temperature", "°C", densest_C, u_C, Distribution::normal,
                    infinite_dof, -water_density_relative_slope(densest_C), 0, 0, 0, "measure"}};
    StepMonteCarloOptions options;
    options.adaptive = false;
    options.max_trials = 200'000;
    const auto check = monte_carlo_of(step);
    REQUIRE(check);
    const double colder = water_density_kg_m3(densest_C) / water_density_kg_m3(densest_C - u_C) - 1;
    const double warmer = water_density_kg_m3(densest_C) / water_density_kg_m3(densest_C + u_C) - 1;
    // Mean of a parabola: half its curvature times the variance, as the mean over +- u shows.
    const double shift = step.volume_per_tip_mL.value * (colder + warmer) / 2;
    CHECK(check->volume_per_tip_mL.mean - step.volume_per_tip_mL.value == Approx(shift).epsilon(0.05));
    CHECK(check->volume_per_tip_mL.intervals.shortest.low >= step.volume_per_tip_mL.value * (1 - 1e-12));
}

TEST_CASE("the check depends on the seed and the step, not on the threads") {
    StepResult step = step_of(usual_bench());
    StepMonteCarloOptions options;
    options.max_trials = 50'000;
    const auto one = monte_carlo_of(step);
    options.threads = 3;
    const auto three = monte_carlo_of(step);
    REQUIRE(one);
    REQUIRE(three);
    CHECK(one->error_percent.intervals.symmetric.low == three->error_percent.intervals.symmetric.low);
    CHECK(one->volume_per_tip_mL.u == three->volume_per_tip_mL.u);
    step.observation.step = 4;
    const auto other = monte_carlo_of(step);
    REQUIRE(other);
    CHECK(other->error_percent.mean != one->error_percent.mean);
}

TEST_CASE("a step without a budget is refused by name") {
    StepResult step = step_of(usual_bench());
    step.budget.clear();
    const auto check = monte_carlo_of(step);
    REQUIRE_FALSE(check);
    CHECK(check.fault().where == "step 3");
    step = step_of(usual_bench());
    step.budget.front().u = std::nan("");
    const auto nan = monte_carlo_of(step);
    REQUIRE_FALSE(nan);
    CHECK(nan.fault().code == FaultCode::not_finite);
}

// Grams add before anything multiplies them; what has another unit multiplies. Of two parts of 20 % the sum
// has a relative variance of 2 * 0.2^2, the product of (1 + 0.2^2)^2 - 1.
TEST_CASE("parts of the mass add up, factors multiply") {
    constexpr double part = 0.2;
    StepMonteCarloOptions options;
    options.adaptive = false;
    options.max_trials = 1'000'000;
    const auto relative_variance = [&](const char* unit, double value, double dlnV) {
        StepResult step = step_of(usual_bench());
        step.budget.clear();
        for (const char* id : {"first", "second"})
            step.budget.push_back(
                {id, id, unit, value, part / dlnV, Distribution::normal, infinite_dof, dlnV, 0, 0, 0, ""});
        step.volume_per_tip_mL.u = step.volume_per_tip_mL.value * part * std::sqrt(2.0);
        step.volume_per_tip_mL.dof = infinite_dof;
        const auto check = monte_carlo_of(step, options);
        REQUIRE(check);
        const double relative = check->volume_per_tip_mL.u / check->volume_per_tip_mL.mean;
        return relative * relative;
    };
    CHECK(relative_variance("g", 0, 1 / 250.6) == Approx(2 * part * part).epsilon(0.005));
    CHECK(relative_variance("g/h", 0, 1 / 250.6) == Approx(2 * part * part).epsilon(0.005));
    const double product = (1 + part * part) * (1 + part * part) - 1;
    CHECK(relative_variance("1", 1, 1) == Approx(product).epsilon(0.005));
}
