// Advice within limits: what passes goes on to pass, what fails does not fail more, and where no setting can
// pass it is said. Built backwards from gauges of known volumes.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "calib/decision/adjustment.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;
using tipwright::test::KnownGauge;

namespace {

AdjustmentGoal within(double percent) {
    AdjustmentGoal goal;
    goal.limits.rows = {{0, 1000, -percent, percent}};
    return goal;
}

bool remarked(const AdjustmentAdvice& advice, const std::string& words) {
    return std::any_of(advice.remarks.begin(), advice.remarks.end(),
                       [&](const auto& remark) { return remark.text.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("a gauge that can be brought within its limits is, by the change that is best without them") {
    KnownGauge gauge;
    gauge.v0_mL = 6.6;
    const auto found = gauge.steps({10, 50, 100, 200});
    const auto free = advise_adjustment(found, gauge.gauge);
    const auto limited = advise_adjustment(found, gauge.gauge, within(6));
    REQUIRE(free);
    REQUIRE(limited);
    CHECK(limited->can_pass == true);
    CHECK_FALSE(free->can_pass);
    CHECK(limited->mean_change_mL.value == Approx(free->mean_change_mL.value).margin(0.01));
    for (const PredictedStep& step : limited->predicted) CHECK(step.left == Verdict::pass);
}

TEST_CASE("no step that passes is made to fail, and none is brought further out") {
    // From 10 to 500 mm/h this gauge's error changes by more than limits of 2 % can hold.
    KnownGauge gauge;
    const std::vector<double> plan{10, 50, 100, 200, 500};
    for (const double v0 : {5.9, 6.1, 6.2, 6.3, 6.5}) {
        gauge.v0_mL = v0;
        const auto found = gauge.steps(plan);
        for (const double limit : {1.0, 2.0, 5.0}) {
            CAPTURE(v0, limit);
            const auto advice = advise_adjustment(found, gauge.gauge, within(limit));
            REQUIRE(advice);
            REQUIRE(advice->can_pass);
            bool all = true;
            for (const PredictedStep& step : advice->predicted) {
                all = all && step.left == Verdict::pass;
                if (step.found == Verdict::pass) CHECK(step.left == Verdict::pass);
                if (step.found != Verdict::pass)
                    CHECK(std::fabs(step.left_percent.value) <= std::fabs(step.found_percent.value) + 1e-6);
            }
            CHECK(*advice->can_pass == all);
            CHECK(remarked(*advice, "no setting of the stop screws") == !all);
        }
    }
}

TEST_CASE("where no change makes more steps pass, those that pass are left where they are") {
    KnownGauge gauge;
    gauge.v0_mL = 6.15;
    const auto found = gauge.steps({6, 9, 14, 21, 32, 48, 110, 170, 250});
    const auto advice = advise_adjustment(found, gauge.gauge, within(3));
    REQUIRE(advice);
    CHECK(advice->can_pass == false);
    CHECK(advice->mean_change_mL.value == 0);
    CHECK(remarked(*advice, "no change makes more steps pass"));
    for (const PredictedStep& step : advice->predicted) CHECK(step.left == step.found);
}

TEST_CASE("a spoon's screw that is left alone adds nothing to what is expected") {
    KnownGauge gauge;
    gauge.gauge.compartments = 1;
    gauge.v0_mL = 6.15;
    const auto found = gauge.steps({6, 9, 14, 21, 32, 48, 110, 170, 250});
    ScrewSensitivity screw;
    screw.mL_per_turn = {0.3, 0.06};
    const auto advice = advise_adjustment(found, gauge.gauge, within(3), screw, 0.05);
    REQUIRE(advice);
    REQUIRE(advice->mean_change_mL.value == 0);
    for (const PredictedStep& step : advice->predicted) {
        CHECK(step.left_percent.value == step.found_percent.value);
        CHECK(step.left_percent.u == step.found_percent.u);
    }
    CHECK(advice->largest_left_percent == advice->largest_found_percent);
}

TEST_CASE("a step under another limit is judged by its own, and one without a limit does not decide") {
    KnownGauge gauge;
    gauge.v0_mL = 6.5;
    AdjustmentGoal goal;
    goal.limits.rows = {{40, 60, -1, 1}};
    const auto advice = advise_adjustment(gauge.steps({10, 50, 200}), gauge.gauge, goal);
    REQUIRE(advice);
    CHECK(advice->can_pass == true);
    CHECK(advice->predicted[0].left == Verdict::no_limit);
    CHECK(advice->predicted[1].left == Verdict::pass);
    CHECK_FALSE(advice->predicted[2].limits);
}
