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

TEST_CASE("the least time of a plan is its tips at their intervals") {
    calib::Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};
    calib::Plan plan;
    plan.steps = {{20, 40, 3600}, {200, 100, 3600}};
    // 0.2 mm at 20 mm/h is a tip every 36 s.
    CHECK(least_collect_time_s(plan, gauge) == Approx(40 * 36.0 + 100 * 3.6));
    plan.steps[0].repeats = 3;
    CHECK(least_collect_time_s(plan, gauge) == Approx(3 * 40 * 36.0 + 100 * 3.6));
}
