#include "calib/decision/adjustment.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::KnownGauge;

namespace {

const std::vector<double> plan_mm_h = {10, 50, 100, 200};

double largest(const std::vector<StepResult>& steps) {
    double most = 0;
    for (const StepResult& step : steps) {
        most = std::max(most, std::fabs(step.error_percent.value) + step.error_expanded.U);
    }
    return most;
}

bool says(const AdjustmentAdvice& advice, const std::string& words) {
    return std::any_of(advice.remarks.begin(), advice.remarks.end(),
                       [&](const auto& remark) { return remark.text.find(words) != std::string::npos; });
}

}  // namespace

// Built backwards: the gauge with the change made is measured again; nothing nearby is better.
TEST_CASE("the advised change leaves the smallest largest error") {
    KnownGauge gauge;
    gauge.v0_mL = 6.6;
    const auto found = gauge.steps(plan_mm_h);
    const auto advice = advise_adjustment(found, gauge.gauge);
    REQUIRE(advice);
    CHECK(advice->mean_change_mL.value < 0);
    CHECK(advice->largest_found_percent == Approx(largest(found)).epsilon(1e-9));

    const auto measured_after = [&](double change_mL) {
        KnownGauge adjusted = gauge;
        adjusted.v0_mL += change_mL;
        return adjusted.steps(plan_mm_h);
    };
    const double d = advice->mean_change_mL.value;
    const double best = largest(measured_after(d));
    // Predicted with what was known of the volume before; a new measurement knows a smaller volume a little
    // better.
    CHECK(advice->largest_left_percent == Approx(best).epsilon(3e-3));
    for (const double other : {-0.05, -0.01, -0.002, 0.002, 0.01, 0.05}) {
        CAPTURE(other);
        CHECK(largest(measured_after(d + other)) > best);
    }
    // Both ends of the range are equally far out then.
    const auto left = measured_after(d);
    const auto extent = [](const StepResult& step) {
        return std::fabs(step.error_percent.value) + step.error_expanded.U;
    };
    CHECK(extent(left.front()) == Approx(extent(left.back())).epsilon(5e-3));

    // What is predicted for each step is what comes, with its uncertainty.
    for (std::size_t i = 0; i < plan_mm_h.size(); ++i) {
        CHECK(advice->predicted[i].left_percent.value == Approx(left[i].error_percent.value).margin(1e-6));
        const double v = found[i].volume_per_tip_mL.value;
        // The part of the volume grows with v/v', that of the catch area stays.
        CHECK(advice->predicted[i].left_percent.u > left[i].error_percent.u);
        CHECK(advice->predicted[i].left_percent.u < left[i].error_percent.u * v / (v + d));
        CHECK(advice->predicted[i].step == static_cast<int>(i) + 1);
    }
    const auto check = check_prediction(*advice, found, left);
    REQUIRE(check);
    for (const PredictionCheck& row : *check) CHECK(row.as_predicted);
    // Another plan numbers its steps otherwise: what was measured at the same rate is held together.
    std::vector<StepResult> turned(left.rbegin(), left.rend());
    for (std::size_t i = 0; i < turned.size(); ++i) turned[i].observation.step = static_cast<int>(i) + 1;
    const auto by_rate = check_prediction(*advice, found, turned);
    REQUIRE(by_rate);
    CHECK(by_rate->size() == check->size());
    for (const PredictionCheck& row : *by_rate) CHECK(row.as_predicted);
    // Whichever of the two rates is the higher.
    for (const auto& [factor, one] :
         {std::pair(1.049, true), {1 / 1.049, true}, {1.0513, false}, {1 / 1.0513, false}}) {
        std::vector<StepResult> slower = left;
        for (StepResult& step : slower) step.reference_intensity_mm_h->value *= factor;
        INFO(factor);
        CHECK(bool(check_prediction(*advice, found, slower)) == one);
    }
    // Where the rate was not told, by the number of the step.
    AdjustmentAdvice numbered = *advice;
    for (PredictedStep& step : numbered.predicted) step.intensity_mm_h = 0;
    const auto by_number = check_prediction(numbered, found, left);
    REQUIRE(by_number);
    REQUIRE(by_number->size() == check->size());
    for (std::size_t i = 0; i < check->size(); ++i) CHECK((*by_number)[i].en == (*check)[i].en);
    // A screw turned twice as far is told.
    const auto overdone = check_prediction(*advice, found, measured_after(2 * d));
    REQUIRE(overdone);
    CHECK(std::none_of(overdone->begin(), overdone->end(), [](const auto& row) { return row.as_predicted; }));
    CHECK(says(*advice, "only a correction for rate"));
}

TEST_CASE("a chosen intensity is centred exactly") {
    KnownGauge gauge;
    gauge.v0_mL = 5.9;
    AdjustmentGoal goal;
    goal.intensity_mm_h = 50;
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, goal);
    REQUIRE(advice);
    CHECK(advice->mean_change_mL.value ==
          Approx(gauge.gauge.nominal_tip_mL() - gauge.volume_mL(50)).epsilon(1e-6));
    CHECK(advice->predicted[1].left_percent.value == Approx(0).margin(1e-6));
    goal.target_error_percent = -1;
    const auto low = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, goal);
    REQUIRE(low);
    CHECK(low->predicted[1].left_percent.value == Approx(-1).margin(1e-6));
    // A single step is its own curve.
    const auto one = advise_adjustment(gauge.steps({50}), gauge.gauge, goal);
    REQUIRE(one);
    CHECK(one->predicted[0].left_percent.value == Approx(-1).margin(1e-6));
}

TEST_CASE("compartments out of balance are each brought to the middle") {
    KnownGauge gauge;
    gauge.v0_mL = 6.5;
    gauge.a_excess_percent = 4;
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(advice);
    REQUIRE(advice->compartments.size() == 2);
    CHECK(advice->sides_known);
    CHECK_FALSE(says(*advice, "could not be told apart"));
    const CompartmentAdvice& A = advice->compartments[0];
    const CompartmentAdvice& B = advice->compartments[1];
    CHECK(A.compartment == "A");
    // After the change both hold the same, and their mean has moved by the mean change.
    CHECK(A.present_mL.value + A.change_mL.value ==
          Approx(B.present_mL.value + B.change_mL.value).epsilon(1e-9));
    CHECK((A.change_mL.value + B.change_mL.value) / 2 == Approx(advice->mean_change_mL.value).epsilon(1e-9));
    CHECK((A.present_mL.value - B.present_mL.value) / (A.present_mL.value + B.present_mL.value) ==
          Approx(0.04).epsilon(0.01));
    CHECK(A.change_percent == Approx(100 * A.change_mL.value / A.present_mL.value));
    CHECK(A.significant);
    CHECK_FALSE(A.turns.has_value());
}

TEST_CASE("a spoon has one screw, and unknown sides are changed alike") {
    KnownGauge gauge;
    gauge.v0_mL = 6.5;
    gauge.gauge.compartments = 1;
    const auto spoon = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(spoon);
    REQUIRE(spoon->compartments.size() == 1);
    CHECK(spoon->compartments[0].compartment == "spoon");
    gauge.gauge.compartments = 2;
    const auto bucket = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(bucket);
    CHECK_FALSE(bucket->sides_known);
    CHECK(bucket->compartments[0].change_mL.value == bucket->compartments[1].change_mL.value);
    CHECK(says(*bucket, "could not be told apart"));
}

TEST_CASE("turns follow from the sensitivity, with its uncertainty") {
    KnownGauge gauge;
    gauge.v0_mL = 6.6;
    ScrewSensitivity sensitivity;
    sensitivity.mL_per_turn = {-0.25, 0.02};
    const auto plain = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, {}, sensitivity, 0.01);
    REQUIRE(plain);
    REQUIRE(advice);
    const CompartmentAdvice& A = advice->compartments[0];
    REQUIRE(A.turns.has_value());
    CHECK(A.turns->value == Approx(A.change_mL.value / -0.25));
    CHECK(A.turns->u == Approx(std::hypot(A.change_mL.u / 0.25, A.turns->value * 0.02 / 0.25)));
    // Not knowing the screw well widens what is predicted: by the setting and by d u(s)/s.
    const double u_d = std::hypot(0.01 / std::sqrt(2.0), advice->mean_change_mL.value * 0.02 / 0.25);
    const double v = gauge.volume_mL(10) + advice->mean_change_mL.value;
    const double widened = std::hypot(plain->predicted[0].left_percent.u,
                                      (100 + plain->predicted[0].left_percent.value) * u_d / v);
    CHECK(advice->predicted[0].left_percent.u == Approx(widened).epsilon(1e-3));
}

TEST_CASE("advice without an intensity knows the catch area too") {
    KnownGauge gauge;
    gauge.v0_mL = 5.9;
    gauge.gauge.catch_diameter_mm.u = 2;  // 2 % of the area: more than all the rest
    AdjustmentGoal goal;
    goal.intensity_mm_h = 50;
    const auto at = advise_adjustment(gauge.steps({50}), gauge.gauge, goal);
    const auto best = advise_adjustment(gauge.steps({50}), gauge.gauge);
    REQUIRE(at);
    REQUIRE(best);
    CHECK(best->mean_change_mL.value == Approx(at->mean_change_mL.value).margin(1e-4));
    CHECK(best->mean_change_mL.u == Approx(at->mean_change_mL.u).epsilon(1e-3));
    CHECK(best->compartments[0].significant == at->compartments[0].significant);
    CHECK(best->mean_change_mL.u > 0.02 * gauge.volume_mL(50));
}

TEST_CASE("advice that makes another rate worse says so, with both numbers") {
    KnownGauge gauge;
    gauge.v0_mL = gauge.gauge.nominal_tip_mL();  // right at no rain, low when it rains hard
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(advice);
    const PredictedStep& slow = advice->predicted.front();
    const double now = std::fabs(slow.found_percent.value);
    const double then = std::fabs(slow.left_percent.value);
    REQUIRE(then > now + 0.5);
    CHECK(says(*advice, "mm/h it makes the error worse, at most from " + fixed(now, 2) + " % to " +
                            fixed(then, 2) + " %"));
    CHECK(says(*advice, "at 10, "));
    CHECK_FALSE(says(*advice, "200 mm/h it makes"));
}

TEST_CASE("a gauge that is right is left alone") {
    KnownGauge gauge;
    gauge.tau_s = 0;
    gauge.v0_mL = gauge.gauge.nominal_tip_mL();
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(advice);
    CHECK(advice->mean_change_mL.value == Approx(0).margin(1e-3));
    CHECK_FALSE(advice->compartments[0].significant);
    CHECK(says(*advice, "leave the stop screws alone"));
}

TEST_CASE("turns are learnt from earlier adjustments") {
    // Backwards from -0.2 mL per turn.
    const auto exact = learn_screw_sensitivity({{1, {-0.2, 0.01}}, {-0.5, {0.1, 0.01}}, {2, {-0.4, 0.02}}});
    REQUIRE(exact);
    CHECK(exact->mL_per_turn.value == Approx(-0.2).epsilon(1e-12));
    // Weights: sum of (turns/u)^2.
    CHECK(exact->mL_per_turn.u == Approx(1 / std::sqrt(1e4 + 0.25e4 + 4 / 4e-4)).epsilon(1e-9));
    CHECK(exact->adjustments == 3);
    CHECK(exact->consistent);
    const auto stated = learn_screw_sensitivity({{1, {-0.24, 0.02}}}, Uncertain{-0.2, 0.02});
    REQUIRE(stated);
    CHECK(stated->mL_per_turn.value == Approx(-0.22).epsilon(1e-9));
    CHECK(stated->mL_per_turn.u == Approx(0.02 / std::sqrt(2.0)).epsilon(1e-9));
    const auto torn = learn_screw_sensitivity({{1, {-0.2, 0.005}}, {1, {-0.3, 0.005}}, {1, {-0.25, 0.005}}});
    REQUIRE(torn);
    CHECK_FALSE(torn->consistent);
    CHECK(torn->widened);
    CHECK(torn->mL_per_turn.u == Approx(0.005 / std::sqrt(3.0) * std::sqrt(torn->chi2 / 2)).epsilon(1e-9));
    CHECK(torn->mL_per_turn.dof == 2);
}

TEST_CASE("advice that cannot be given is refused") {
    KnownGauge gauge;
    CHECK(advise_adjustment({}, gauge.gauge).fault().code == FaultCode::too_few_points);
    AdjustmentGoal goal;
    goal.intensity_mm_h = 500;
    CHECK(advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, goal).fault().code == FaultCode::bad_value);
    KnownGauge wrong;
    wrong.v0_mL = 14;  // nominal tip of another gauge
    CHECK(advise_adjustment(wrong.steps(plan_mm_h), wrong.gauge).fault().where == "adjustment");
    CHECK(advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, {}, ScrewSensitivity{}).fault().code ==
          FaultCode::bad_value);
    CHECK(advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge, {}, std::nullopt, -1).fault().code ==
          FaultCode::bad_value);
    CHECK(learn_screw_sensitivity({}).fault().code == FaultCode::too_few_points);
    CHECK(learn_screw_sensitivity({{1, {0.2, 0.01}}, {0, {0.1, 0.1}}}).fault().where == "adjustment 2");
    CHECK(learn_screw_sensitivity({{1, {0.2, 0}}}).fault().where == "adjustment 1");
    CHECK(learn_screw_sensitivity({{1, {0.01, 0.02}}}).fault().code == FaultCode::inconsistent);
    const auto advice = advise_adjustment(gauge.steps(plan_mm_h), gauge.gauge);
    REQUIRE(advice);
    CHECK(check_prediction(*advice, gauge.steps(plan_mm_h), {}).fault().code == FaultCode::too_few_points);
}
