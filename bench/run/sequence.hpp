// Sequence: the procedure of a run as a list that can be printed before it is run, and the states a run
// may pass through with every permitted transition in one table.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/base/plan.hpp"

namespace tipwright::bench {

enum class RunState { idle, priming, wetting, draining, settling, collecting, stopping, ended };

std::string_view name_of(RunState state);
bool may_follow(RunState from, RunState to);

struct PlannedAction {
    RunState state = RunState::idle;
    int step = 0;    // 0: not of one step
    int repeat = 1;  // run of the step
    double intensity_mm_h = 0;
    double flow_mL_min = 0;
    int min_tips = 0;
    double least_time_s = 0;  // from the nominal tip interval
};

// Draining is not listed: it comes when the vessel needs it.
std::vector<PlannedAction> planned_actions(const calib::Plan& plan, const calib::Gauge& gauge);

// Least time the tips of the collects themselves need, seconds: min_tips intervals at each intensity.
double least_collect_time_s(const calib::Plan& plan, const calib::Gauge& gauge);

}  // namespace tipwright::bench
