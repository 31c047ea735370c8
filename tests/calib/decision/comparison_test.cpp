#include "calib/decision/comparison.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::KnownGauge;

namespace {

ErrorCurve curve_of(const KnownGauge& gauge, const std::vector<double>& intensities, double years = 0,
                    const std::string& name = "record") {
    auto curve = error_curve(name, years, gauge.steps(intensities));
    REQUIRE(curve);
    return *curve;
}

}  // namespace

// ISO 13528:2022: E_n by hand: (10.2 - 10.0)/sqrt(0.15^2 + 0.2^2) = 0.8.
TEST_CASE("E_n numbers") {
    const double k = expanded({0, 1}).k;
    CHECK(en_number({10.2, 0.15 / k}, {10.0, 0.2 / k}) == Approx(0.8).epsilon(1e-12));
    CHECK(en_number({10.0, 0.2 / k}, {10.2, 0.15 / k}) == Approx(-0.8).epsilon(1e-12));
    // Fully correlated and equal: no difference is allowed.
    CHECK(en_number({1, 0.1}, {1, 0.1}, 0.95, 0.01) == 0);
    CHECK(std::isinf(en_number({1.1, 0.1}, {1, 0.1}, 0.95, 0.01)));
    // What both share takes no part: here u^2 = 0.02 - 0.01.
    CHECK(en_number({1.1, 0.1}, {1, 0.1}, 0.95, 0.005) == Approx(0.1 / (k * 0.1)).epsilon(1e-9));
}

TEST_CASE("steps of one run share what the budget says they share") {
    const KnownGauge gauge;
    const auto steps = gauge.steps({20, 100});
    double shared = 0;
    for (const auto& component : steps[0].budget) {
        if (component.cause.empty()) continue;
        for (const auto& other : steps[1].budget) {
            if (other.cause == component.cause) {
                shared += component.relative_to_e() * component.u * other.relative_to_e() * other.u;
            }
        }
    }
    CHECK(shared > 0);
    CHECK(error_covariance(steps[0], steps[1]) ==
          Approx(shared * (100 + steps[0].error_percent.value) * (100 + steps[1].error_percent.value))
              .epsilon(1e-9));
    // Where on its scale the balance errs is each step's own.
    const auto linearity = std::find_if(steps[0].budget.begin(), steps[0].budget.end(),
                                        [](const auto& one) { return one.id == "balance_linearity"; });
    CHECK(linearity->cause == "balance_linearity in step 1");
    CHECK(error_covariance(steps[0], steps[0]) < steps[0].error_percent.u * steps[0].error_percent.u);
}

TEST_CASE("an error curve goes through its steps and joins repeats") {
    const KnownGauge gauge;
    const ErrorCurve curve = curve_of(gauge, {20, 50, 100, 200});
    const auto steps = gauge.steps({20, 50, 100, 200});
    for (const StepResult& step : steps) {
        const auto error = error_at(curve, step.reference_intensity_mm_h->value);
        REQUIRE(error);
        CHECK(error->value == Approx(step.error_percent.value).epsilon(1e-9));
        CHECK(error->u == Approx(step.error_percent.u).epsilon(1e-4));
    }
    // What lies between the points is a part of the uncertainty there, and none at a point.
    const auto open_between = [&](double intensity_mm_h) {
        const Contributions parts = parts_at(curve, intensity_mm_h);
        REQUIRE_FALSE(parts.empty());
        return std::count_if(parts.begin(), parts.end(), [](const Contribution& part) {
            return part.cause.find("between the points") != std::string::npos;
        });
    };
    for (const double at_point : curve.errors.points.x) CHECK(open_between(at_point) == 0);
    CHECK(open_between(150) == 1);
    // Between: close to the true curve of this gauge.
    const auto between = error_at(curve, 150);
    REQUIRE(between);
    CHECK(between->value == Approx(gauge.error_percent(150)).margin(2 * between->u));

    const ErrorCurve repeats = curve_of(gauge, {20, 20, 20, 100, 100});
    CHECK(repeats.errors.points.x.size() == 2);
    const auto mean = error_at(repeats, 20);
    REQUIRE(mean);
    CHECK(mean->value == Approx(gauge.error_percent(20)).margin(1e-6));
    // Three steps of one intensity: their own parts shrink, what they share does not.
    const auto again = gauge.steps({20, 20});
    const double in_common = error_covariance(again[0], again[1]);
    const double own = again[0].error_percent.u * again[0].error_percent.u - in_common;
    CHECK(mean->u * mean->u == Approx(in_common + own / 3).epsilon(1e-3));
    CHECK_FALSE(error_at(curve, 250).ok());
    CHECK(error_at(curve, 250).fault().where == "record");
}

// Found by comparing two supplied tables of one gauge and one day: E_n was ten times too large.
TEST_CASE("what two measurements of one gauge at the same moment have of their own does not cancel") {
    const KnownGauge gauge;
    const auto steps = gauge.steps({20, 100});
    const auto at = [&](double years, const char* own) { return *error_curve("record", years, steps, own); };
    const auto U_of = [](const ErrorCurve& first, const ErrorCurve& second) {
        return compare(first, second)->front().U_percent;
    };
    const double a_day_apart = U_of(at(0, ""), at(1 / 365.25, ""));
    CHECK(U_of(at(0, "one source"), at(0, "another source")) == Approx(a_day_apart).epsilon(1e-9));
    // The same source twice is one measurement.
    CHECK(U_of(at(0, "one source"), at(1, "one source")) < 0.01 * a_day_apart);
}

TEST_CASE("two gauges differ by what they differ by") {
    KnownGauge first;
    KnownGauge second;
    second.v0_mL = first.v0_mL * 1.03;
    const auto rows =
        compare(curve_of(first, {20, 100, 200}, 0, "first"), curve_of(second, {20, 50, 200}, 0, "second"));
    REQUIRE(rows);
    REQUIRE(rows->size() == 4);  // 20, 50, 100, 200
    for (const CurveDifference& row : *rows) {
        CAPTURE(row.intensity_mm_h);
        const double truth =
            second.error_percent(row.intensity_mm_h) - first.error_percent(row.intensity_mm_h);
        CHECK(row.difference_percent.value == Approx(truth).margin(row.U_percent));
        CHECK(row.en == Approx(row.difference_percent.value / row.U_percent).epsilon(1e-3));
    }
    CHECK(rows->front().en < -1);  // 3 % is told
    const auto same = compare(curve_of(first, {20, 100, 200}), curve_of(first, {20, 100, 200}));
    REQUIRE(same);
    for (const CurveDifference& row : *same) CHECK(row.en == Approx(0).margin(1e-9));
    const auto wanted =
        compare(curve_of(first, {20, 100, 200}), curve_of(second, {20, 100, 200}), {50, 150, 400});
    REQUIRE(wanted);
    CHECK(wanted->size() == 2);  // 400 lies beyond
    CHECK(compare(curve_of(first, {5, 10}), curve_of(second, {100, 200})).fault().code ==
          FaultCode::too_few_points);
}

TEST_CASE("how far a gauge keeps its accuracy") {
    KnownGauge gauge;
    gauge.v0_mL = gauge.gauge.nominal_tip_mL();
    const ErrorCurve curve = curve_of(gauge, {10, 50, 100, 150, 200, 300});
    const auto range = accuracy_range(curve, 5, false);
    REQUIRE(range);
    CHECK(range->kept_at_all);
    CHECK_FALSE(range->kept_to_the_end);
    // e = -5 % where tau Q = V0 (1/0.95 - 1).
    const double flow_mL_min = 60 * gauge.v0_mL * (1 / 0.95 - 1) / gauge.tau_s;
    CHECK(range->to_mm_h ==
          Approx(intensity_mm_h(flow_mL_min, gauge.gauge.catch_area_cm2().value)).epsilon(0.01));
    const auto guarded = accuracy_range(curve, 5, true);
    REQUIRE(guarded);
    CHECK(guarded->to_mm_h < range->to_mm_h);
    const auto wide = accuracy_range(curve, 50, true);
    REQUIRE(wide);
    CHECK(wide->kept_to_the_end);
    CHECK(wide->to_mm_h == Approx(300).epsilon(1e-6));
    gauge.v0_mL *= 1.2;
    const auto never = accuracy_range(curve_of(gauge, {10, 100}), 5, false);
    REQUIRE(never);
    CHECK_FALSE(never->kept_at_all);
}

TEST_CASE("comparisons that cannot be made are refused") {
    const KnownGauge gauge;
    CHECK(error_curve("lone", 0, gauge.steps({20})).fault().code == FaultCode::too_few_points);
    CHECK(error_curve("lone", 0, {}).fault().where == "lone, calibration points");
    CHECK(accuracy_range(curve_of(gauge, {20, 100}), 0, false).fault().code == FaultCode::bad_value);
}
