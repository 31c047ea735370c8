#include "calib/decision/field_check.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "calib/statistics/monte_carlo.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"
#include "calib/weighing/weighing.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

Gauge gauge_200() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    gauge.max_intensity_mm_h = 300;
    return gauge;
}

}  // namespace

// By hand: 314.16 cm2 and 0.2 mm are 6.2832 mL a tip. 1000 mL give 159 tips and 0.155 of one: 159.5 expected
// at best guess, e = 159.5 x 6.2832/1000 - 1 = +0.217 %.
TEST_CASE("a litre poured into a right gauge") {
    PourCheck check;
    check.poured_mL = {1000, 1};
    check.tips = 159;
    check.duration_s = 3600;
    const auto result = evaluate_pour(check, gauge_200(), FieldLimits{-5, 5, DecisionRule::guard_band, 0.95});
    REQUIRE(result);
    CHECK(result->error_percent.value == Approx(100 * (159.5 * 6.283185307 / 1000 - 1)).epsilon(1e-6));
    // Volume 0.1 %, half a tip in 159.5 as rectangular 0.181 %, area 0.1 %.
    CHECK(result->error_percent.u ==
          Approx(1.00217 * std::hypot(0.1, 100 / std::sqrt(12.0) / 159.5, 0.1)).epsilon(1e-4));
    CHECK(result->volume_mL.u == Approx(1));
    CHECK(result->volume_per_tip_mL.value == Approx(1000 / 159.5));
    CHECK(result->volume_per_tip_mL.u ==
          Approx(1000 / 159.5 * std::hypot(0.001, 1 / std::sqrt(12.0) / 159.5)).epsilon(1e-6));
    CHECK(result->depth_true_mm == Approx(31.831).epsilon(1e-4));
    CHECK(result->depth_indicated_mm == Approx(31.8));
    REQUIRE(result->intensity_mm_h.has_value());
    CHECK(*result->intensity_mm_h == Approx(31.831).epsilon(1e-4));
    REQUIRE(result->conformity.has_value());
    CHECK(result->conformity->verdict == Verdict::pass);
    CHECK(result->conformity->wrong_probability < 1e-6);
    CHECK(result->inputs.size() == result->contributions_percent.size());
    // That the error rests on 159.5 tips, not on the 159 that were counted, is told.
    REQUIRE(result->remarks.size() == 1);
    CHECK(result->remarks[0].note == FieldNote::part_tip_added);
    CHECK(remark_text(result->remarks[0]).find("0.5 tips were added") != std::string::npos);
    check.begin = FillLevel::unknown;
    CHECK(evaluate_pour(check, gauge_200())->remarks.empty());
    check.end = FillLevel::at_tip;
    CHECK(evaluate_pour(check, gauge_200())->remarks.at(0).note == FieldNote::part_tip_taken_off);
    check.begin = FillLevel::at_tip;
    CHECK(evaluate_pour(check, gauge_200())->remarks.empty());
}

// The gauge fills and tips as it does, from whatever was in it: what is stated must cover what is true.
TEST_CASE("pour checks cover the true error whatever the compartments held") {
    const Gauge gauge = gauge_200();
    constexpr double true_tip_mL = 6.5;
    const double true_error = 100 * (gauge.nominal_tip_mL() / true_tip_mL - 1);
    constexpr int trials = 4000;
    RandomLanes random(31, 0, 0);
    for (const FillLevel begin : {FillLevel::at_tip, FillLevel::unknown}) {
        for (const FillLevel end : {FillLevel::at_tip, FillLevel::unknown}) {
            int covered = 0;
            double bias = 0;
            std::array<double, random_block> uniform{};
            std::array<double, random_block> normal{};
            for (int trial = 0; trial < trials; ++trial) {
                const auto i = static_cast<std::size_t>(trial) % random_block;
                if (i == 0) {
                    random.fill_uniform(uniform);
                    random.fill_normal(normal);
                }
                PourCheck check;
                check.begin = begin;
                check.end = end;
                const double held = begin == FillLevel::at_tip ? 0 : uniform[i] * true_tip_mL;
                // Volumes of any size, so that where the last tip falls is arbitrary too.
                double poured = 300 + 100 * std::fmod(trial * 0.6180339887, 1.0);
                const double tips = std::floor((held + poured) / true_tip_mL);
                check.tips = static_cast<int>(tips);
                if (end == FillLevel::at_tip) poured = tips * true_tip_mL - held;
                check.poured_mL = {poured + 0.5 * normal[i], 0.5};
                const auto result = evaluate_pour(check, gauge);
                REQUIRE(result);
                const double deviation = result->error_percent.value - true_error;
                bias += deviation / trials;
                // The catch area is exact here: its part of the uncertainty is taken out.
                const double by_area = result->contributions_percent.back();
                const double u =
                    std::sqrt(std::max(std::pow(result->error_percent.u, 2) - by_area * by_area, 0.0));
                covered += std::fabs(deviation) <= result->error_expanded.k * u ? 1 : 0;
            }
            CAPTURE(static_cast<int>(begin), static_cast<int>(end));
            CHECK(std::fabs(bias) < 0.03);
            // One rectangular part that dominates is covered by 1.96 u altogether.
            CHECK(static_cast<double>(covered) / trials >= 0.935);
        }
    }
}

TEST_CASE("water weighed later against the logger's count") {
    const Gauge gauge = gauge_200();
    DischargeCheck check;
    check.conditions = {18, 18, 990, 60};
    // Backwards: 500 tips of 6.4 mL at 18 degC, of which 12 g evaporated.
    const double rho_w = water_density_kg_m3(18);
    const double rho_a = air_density_kg_m3(18, 990, 60);
    const double reading_g = 500 * 6.4 * rho_w / 1000 / buoyancy_factor(rho_a, rho_w);
    check.weighed_g = {reading_g - 12, 0.5};
    check.lost_g = {12, 3};
    check.logged_tips = 500;
    const auto result = evaluate_discharge(check, gauge, FieldLimits{-5, 5}, Uncertain{-1.6, 0.2});
    REQUIRE(result);
    CHECK(result->volume_mL.value == Approx(3200).epsilon(1e-9));
    CHECK(result->error_percent.value == Approx(100 * (gauge.nominal_tip_mL() / 6.4 - 1)).epsilon(1e-9));
    const double expected_u = (100 + result->error_percent.value) *
                              std::sqrt(std::pow(3.0 / reading_g, 2) + std::pow(0.5 / reading_g, 2) +
                                        std::pow(1 / std::sqrt(6.0) / 500, 2) +
                                        std::pow(2 * water_density_relative_slope(18), 2) + 1e-6);
    CHECK(result->error_percent.u == Approx(expected_u).epsilon(1e-6));
    REQUIRE(result->en.has_value());
    CHECK(std::fabs(*result->en) < 1);
    CHECK(result->conformity->verdict == Verdict::pass);

    // A logger that corrects for rate is judged by what it recorded.
    check.logged_depth_mm = 500 * 6.4 * 10 / gauge.catch_area_cm2().value;
    const auto corrected = evaluate_discharge(check, gauge);
    REQUIRE(corrected);
    CHECK(corrected->error_percent.value == Approx(0).margin(1e-9));

    // A logger that missed a fifth of the tips.
    check.logged_depth_mm.reset();
    check.logged_tips = 400;
    const auto missed = evaluate_discharge(check, gauge, FieldLimits{-5, 5}, Uncertain{-1.6, 0.2});
    REQUIRE(missed);
    CHECK(missed->conformity->verdict == Verdict::fail);
    CHECK(*missed->en < -10);
    CHECK(std::any_of(missed->remarks.begin(), missed->remarks.end(),
                      [](const FieldRemark& r) { return r.note == FieldNote::moved_since_certificate; }));
    CHECK(remark_text(missed->remarks.back()).find("no longer reads") != std::string::npos);
}

TEST_CASE("a check too coarse for its limits says so") {
    PourCheck check;
    check.poured_mL = {60, 1};
    check.tips = 9;
    check.begin = FillLevel::unknown;
    const auto result = evaluate_pour(check, gauge_200(), FieldLimits{-5, 5, DecisionRule::guard_band, 0.95});
    REQUIRE(result);
    CHECK(result->conformity->verdict == Verdict::undecided);
    REQUIRE(result->remarks.size() == 1);
    CHECK(result->remarks[0].note == FieldNote::too_coarse);
    CHECK(remark_text(result->remarks[0]).find("too coarse") != std::string::npos);
}

TEST_CASE("field checks that cannot be are refused") {
    const Gauge gauge = gauge_200();
    PourCheck check;
    check.poured_mL = {500, 1};
    CHECK(evaluate_pour(check, gauge).fault().code == FaultCode::bad_value);  // no tips
    check.tips = 79;
    check.duration_s = 0;
    CHECK_FALSE(evaluate_pour(check, gauge).ok());
    check.duration_s.reset();
    check.retained_mL = {600, 1};
    CHECK(evaluate_pour(check, gauge).fault().where == "pour check");
    check.retained_mL = {0, std::nan("")};
    CHECK(evaluate_pour(check, gauge).fault().code == FaultCode::not_finite);
    check.retained_mL = {};
    CHECK(evaluate_pour(check, gauge, FieldLimits{5, -5}).fault().code == FaultCode::bad_value);
    Gauge metres = gauge;
    metres.catch_diameter_mm.value = 0.2;
    CHECK(evaluate_pour(check, metres).fault().where == "gauge");
    DischargeCheck discharge;
    discharge.weighed_g = {100, 1};
    discharge.logged_tips = 16;
    discharge.conditions.air_pressure_hPa = 101325;
    CHECK(evaluate_discharge(discharge, gauge).fault().code == FaultCode::bad_value);
    // Both ends of what can be weighed outside: water from 0 to 50 degC, air from -20, damp from 0 to 100 %.
    const auto possible = [&](double water_C, double air_C, double damp_percent) {
        discharge.conditions = {};
        discharge.conditions.water_temperature_C = water_C;
        discharge.conditions.air_temperature_C = air_C;
        discharge.conditions.relative_humidity_percent = damp_percent;
        return evaluate_discharge(discharge, gauge).ok();
    };
    CHECK(possible(0, 20, 50));
    CHECK_FALSE(possible(-0.1, 20, 50));
    CHECK(possible(50, 20, 50));
    CHECK_FALSE(possible(50.1, 20, 50));
    CHECK(possible(20, -20, 0));
    CHECK_FALSE(possible(20, -20.1, 0));
    CHECK(possible(20, 50, 100));
    CHECK_FALSE(possible(20, 20, 100.1));
    discharge.conditions = {};
    discharge.logged_depth_mm = -1;
    CHECK(evaluate_discharge(discharge, gauge).fault().code == FaultCode::bad_value);
}
