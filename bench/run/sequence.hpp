// Sequence: the states a run may pass through, with every permitted transition in one table, and the least
// time the collects of a plan need.
#pragma once

#include <string_view>

#include "calib/base/gauge.hpp"
#include "calib/base/plan.hpp"

namespace tipwright::bench {

enum class RunState { idle, priming, wetting, draining, settling, collecting, stopping, ended };

std::string_view name_of(RunState state);
bool may_follow(RunState from, RunState to);

// Least time the tips of the collects themselves need, seconds: min_tips intervals at each intensity.
double least_collect_time_s(const calib::Plan& plan, const calib::Gauge& gauge);

}  // namespace tipwright::bench
