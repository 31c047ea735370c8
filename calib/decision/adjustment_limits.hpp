// The change of volume that serves the limits best: as many steps as possible pass by the plan's rule, and no
// step is brought further out than it is, passing ones not at all. Internal to decision/. Units: mL, %.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "calib/base/plan.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/decision/conformity.hpp"

namespace tipwright::calib {

// A step's limits: those of its set intensity. No row: none.
std::optional<LimitRow> limits_at(const Limits& limits, double intensity_mm_h);

struct LimitRule {
    DecisionRule rule = DecisionRule::simple_acceptance;
    double guard_band_times_U = 1;
    double required_probability = 0.95;
    double coverage = default_coverage;
};

// The verdict on an error, and by how many per cent it lies beyond where it would pass; 0 when it passes.
struct LimitVerdict {
    Verdict verdict = Verdict::no_limit;
    double beyond_percent = 0;
};
LimitVerdict limit_verdict(const Uncertain& error_percent, const std::optional<LimitRow>& row,
                           const LimitRule& rule);

struct LimitedChange {
    double change_mL = 0;
    bool passes = false;  // every step with limits
};
// `error_after` gives the error of step i after a change; `preferred` is taken where it is as good. Changes
// between `low` and `high` and none at all are looked at.
LimitedChange change_within_limits(const std::vector<std::optional<LimitRow>>& rows, const LimitRule& rule,
                                   const std::function<Uncertain(std::size_t, double)>& error_after,
                                   double low, double high, double preferred);

}  // namespace tipwright::calib
