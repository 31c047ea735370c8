// Sequence: the states a run may pass through, with every permitted transition in one table, and the time
// that is left of a plan.
#pragma once

#include <string_view>

#include "calib/base/gauge.hpp"
#include "calib/base/plan.hpp"

namespace tipwright::bench {

enum class RunState { idle, priming, wetting, draining, settling, collecting, stopping, ended };

std::string_view name_of(RunState state);
bool may_follow(RunState from, RunState to);

// Where a run stands within its plan.
struct PlaceInPlan {
    RunState phase = RunState::idle;
    int step = 0;  // 1-based; 0: before the first
    int repeat = 1;
    int tips = 0;  // of the collect in hand
};
// Least time the steps still take from there on, seconds.
double time_left_s(const calib::Plan& plan, const calib::Gauge& gauge, const PlaceInPlan& place);

}  // namespace tipwright::bench
