// Shift checks: a gauge that changes while it is calibrated (a stop screw slips, water hangs on a
// compartment, the bucket sits differently, dirt falls in) has two states, and the mean over both is the
// volume of neither. Found from the tips' own data:
//   within a collect: two sample means about each possible place of the change, Student's t of the largest,
//     shared out over the places (Bonferroni). Of a bucket the difference of the compartments, pair by pair
//     (a straight inlet: intervals; a siphon: intervals within an emptying, which its own flow fills), so
//     that a pump that wears says nothing; and the weighed water per tip, of a bucket in pairs.
//   the balance: the weighed water of a tip over its interval is the flow, whatever the tip held; where that
//     changes and the water of the tips does too, rather than their pace, it is the balance or the way of the
//     water into the vessel, neither the gauge nor the pump.
//   between collects: the difference of the compartments in mL, which does not depend on the rate; and its
//     scatter within one of them, which grows where the change came in the middle of it (F test).
// Which side is A is not known once a tip was lost or a run was resumed: between collects a difference that
// only changed its sign is no change. alpha: as in calib/tips/tip_checks.hpp. Besides being significant a
// change must exceed what matters, in per cent of the mean volume per tip (common practice, no source).
// Source of the test: Hawkins 1977, J. Am. Stat. Assoc. 72, 180 (largest two-sample t over all places).
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "calib/tips/finding.hpp"
#include "calib/tips/tip_series.hpp"

namespace tipwright::calib {

inline constexpr double allowed_shift_percent = 0.5;

// A change of level in a sequence whose values are relative to a tip (1: a whole one).
struct LevelChange {
    std::size_t at = 0;  // the first value of the new level
    double change = 0;   // new level minus old
    double statistic = 0;
    double threshold = 0;
};
// The most telling one, with at least `least` values on each side; nothing: none, or fewer than 6 values.
std::optional<LevelChange> level_change(std::span<const double> values, std::size_t least, double allowed,
                                        double false_alarm_rate);

// Within one collect. Needs 8 tips.
std::vector<Finding> check_shift(const TipSeries& series, double false_alarm_rate = default_false_alarm_rate);

// The same of the weighed water alone, for a series that began while the step settled, `settling` tips before
// the collect opened: a spoon has no other side to compare with, so only those tips tell of a change before
// the collect. Nothing where less than two thirds of the tips are weighed.
std::optional<Finding> check_water_since_settle(const TipSeries& series, std::size_t settling,
                                                double false_alarm_rate = default_false_alarm_rate);

// What a step knows of its compartments: A minus B in mL, half of it, with its uncertainty.
struct HalfDifference {
    double mL = 0;
    double u_mL = 0;
    double dof = 0;
    double volume_per_tip_mL = 0;
};
// Between steps in the order they were run.
struct ShiftBetween {
    std::size_t at = 0;  // the first step of the new state
    double percent = 0;  // of the volume per tip
    double statistic = 0;
    double threshold = 0;
};
std::optional<ShiftBetween> shift_between(std::span<const HalfDifference> steps,
                                          double false_alarm_rate = default_false_alarm_rate);

}  // namespace tipwright::calib
