#include "bench/run/sequence.hpp"

#include <algorithm>
#include <array>

namespace tipwright::bench {

namespace {

struct Transition {
    RunState from;
    RunState to;
};

// Every permitted transition; any other is an error.
constexpr std::array transitions = {
    Transition{RunState::idle, RunState::draining},
    Transition{RunState::idle, RunState::priming},
    Transition{RunState::draining, RunState::priming},
    Transition{RunState::priming, RunState::wetting},
    Transition{RunState::wetting, RunState::draining},
    Transition{RunState::wetting, RunState::settling},
    Transition{RunState::draining, RunState::settling},
    Transition{RunState::settling, RunState::collecting},
    Transition{RunState::settling, RunState::draining},
    Transition{RunState::collecting, RunState::settling},
    Transition{RunState::collecting, RunState::draining},
    Transition{RunState::stopping, RunState::ended},
};

double interval_s(const calib::Gauge& gauge, double intensity_mm_h) {
    return 3600 * gauge.nominal_tip_mm / intensity_mm_h;
}

}  // namespace

std::string_view name_of(RunState state) {
    switch (state) {
        case RunState::idle:
            return "idle";
        case RunState::priming:
            return "prime";
        case RunState::wetting:
            return "wet";
        case RunState::draining:
            return "drain";
        case RunState::settling:
            return "settle";
        case RunState::collecting:
            return "collect";
        case RunState::stopping:
            return "stop";
        case RunState::ended:
            return "ended";
    }
    return "?";
}

bool may_follow(RunState from, RunState to) {
    // Stopping is permitted from everywhere but after the end.
    if (to == RunState::stopping) return from != RunState::ended && from != RunState::stopping;
    return std::any_of(transitions.begin(), transitions.end(),
                       [&](const Transition& t) { return t.from == from && t.to == to; });
}

double time_left_s(const calib::Plan& plan, const calib::Gauge& gauge, const PlaceInPlan& place) {
    double left_s = 0;
    for (int k = std::max(place.step, 1); k <= static_cast<int>(plan.steps.size()); ++k) {
        const calib::PlanStep& step = plan.steps[static_cast<std::size_t>(k - 1)];
        const double tip_s = interval_s(gauge, step.intensity_mm_h);
        const double settle_s = std::max(plan.settle_s, plan.settle_tips * tip_s);
        const double run_s = settle_s + step.min_tips * tip_s;
        int runs = step.repeats;
        if (k == place.step) {
            runs -= place.repeat - 1;
            if (place.phase == RunState::collecting) {
                left_s += std::max(0, step.min_tips - place.tips) * tip_s;
                --runs;
            }
        }
        left_s += runs * run_s;
    }
    return left_s;
}

}  // namespace tipwright::bench
