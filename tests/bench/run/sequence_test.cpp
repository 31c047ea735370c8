#include "bench/run/sequence.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <set>

using namespace tipwright;
using namespace tipwright::bench;

namespace {

constexpr std::array all_states = {RunState::idle,     RunState::priming,  RunState::wetting,
                                   RunState::draining, RunState::settling, RunState::collecting,
                                   RunState::stopping, RunState::ended};

}  // namespace

TEST_CASE("every state can be stopped from, and nothing follows the end") {
    for (const RunState state : all_states) {
        CHECK(may_follow(state, RunState::stopping) ==
              (state != RunState::ended && state != RunState::stopping));
        CHECK_FALSE(may_follow(RunState::ended, state));
        CHECK(may_follow(RunState::stopping, state) == (state == RunState::ended));
    }
    // Water is never collected before the gauge was wetted and settled.
    CHECK_FALSE(may_follow(RunState::priming, RunState::collecting));
    CHECK_FALSE(may_follow(RunState::wetting, RunState::collecting));
    CHECK_FALSE(may_follow(RunState::draining, RunState::collecting));
}

TEST_CASE("states have distinct names") {
    std::set<std::string_view> names;
    for (const RunState state : all_states) names.insert(name_of(state));
    CHECK(names.size() == all_states.size());
}

TEST_CASE("the procedure can be listed before it is run") {
    calib::Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};
    calib::Plan plan;
    plan.steps = {{20, 40, 3600}, {200, 100, 3600}};
    const auto actions = planned_actions(plan, gauge);
    REQUIRE(actions.size() == 7);
    CHECK(actions[0].state == RunState::priming);
    CHECK(actions[3].state == RunState::collecting);
    CHECK(actions[3].step == 1);
    // 200 mm gauge at 20 mm/h: 10.472 mL/min, a tip every 36 s (geometry).
    CHECK(actions[3].flow_mL_min == Approx(10.472).epsilon(1e-4));
    CHECK(actions[3].least_time_s == Approx(40 * 36.0));
    CHECK(actions.back().state == RunState::stopping);
    CHECK(least_collect_time_s(plan, gauge) == Approx(40 * 36.0 + 100 * 3.6));
    const auto once = actions.size();
    auto repeated = plan;
    repeated.steps[0].repeats = 3;
    const auto more = planned_actions(repeated, gauge);
    CHECK(more.size() == once + 4);  // settle and collect of two more runs
    CHECK(least_collect_time_s(repeated, gauge) == Approx(3 * 40 * 36.0 + 100 * 3.6));
    for (std::size_t k = 1; k < actions.size(); ++k) {
        CHECK(may_follow(actions[k - 1].state, actions[k].state));
    }
}
