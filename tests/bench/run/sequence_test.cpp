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
