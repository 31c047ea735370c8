// Tip checks: what the intervals of tips and the water behind them say about gauge and bench.
// Each check states its false-alarm rate alpha: the probability, at most, that it speaks on one collect with
// nothing wrong, if single tips scatter normally about the mean of their compartment and the inflow is steady
// apart from what `flow` tells. Besides being significant a deviation must be large enough to matter; that
// only makes false alarms rarer. Measured rates: tests/figures/detector_figures.cpp. Sources: outliers Rosner
// 1983 (calib/statistics/outliers.hpp); slopes and means Student's t.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/base/uncertain.hpp"
#include "calib/tips/finding.hpp"
#include "calib/tips/observation.hpp"
#include "calib/tips/observe.hpp"
#include "calib/tips/tip_series.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::calib {

// Tips with no or too little water behind them, and (with a single contact) closures that were missed; by the
// intervals of a regular gauge and by those tips that are weighed, each at half of alpha. Either shares its
// half between deviations from the other tips (a regular gauge, 8 of them, two thirds weighed) and, where the
// nominal volume is known, less than a quarter of it (a gauge's volume taken as normal about the nominal one
// with 12 %), which still tells when most tips are false, and by the water of a siphon's tips. Within a
// siphon's emptyings no interval may be much shorter than the others.
std::vector<Finding> check_phantom_tips(const TipSeries& series,
                                        double false_alarm_rate = default_false_alarm_rate);

// A weight that changes without a tip: water that does not fit its interval (straight inlet, 8 tips; Rosner's
// test, each compartment about its own median), or a change in a siphon's pauses beyond the repeatability of
// the balance. Speaks from 0.1 % of the collect's water on.
std::optional<Finding> check_balance_disturbance(const TipSeries& series, const BalanceMetrology& balance,
                                                 double total_g,
                                                 double false_alarm_rate = default_false_alarm_rate);

// A bucket of which one side is never counted shows twice the volume. volume_per_tip in mL, flow in mL/s.
// A working gauge's volume per tip is taken as normal about the nominal one plus movement time 0.45 s times
// the flow, with 12 % and 0.15 s (ranges of tests and papers, common practice, no source).
std::optional<Finding> check_dead_compartment(double volume_per_tip_mL, std::optional<double> flow_mL_s,
                                              const Gauge& gauge,
                                              double false_alarm_rate = default_false_alarm_rate);

// Growth of the intervals that a worn tube of the pump explains, per cent an hour.
inline constexpr double allowed_growth_percent_h = 3;
// Outflow that falls behind inflow while both should be steady: intervals grow beyond allowed_percent_h,
// relative to the commanded flow. One-sided t-test of the slope. Regular gauges, at least 8 intervals.
std::optional<Finding> check_funnel_trend(const TipSeries& series,
                                          double allowed_percent_h = allowed_growth_percent_h,
                                          double false_alarm_rate = default_false_alarm_rate);

// Compartments further from their mean than allowed_percent. One-sided t-test.
std::optional<Finding> check_compartments(const CompartmentBalance& balance, double allowed_percent = 2.5,
                                          double false_alarm_rate = default_false_alarm_rate);

// Loss of the vessel seen on one plateau of the balance: g/h, positive.
struct LossPoint {
    double time_s = 0;
    double loss_g_h = 0;
    double u_g_h = 0;  // relative weights matter, not the size
};

// From the readings between tips that are far enough apart for the balance to settle and show a slope.
std::vector<LossPoint> losses_between_tips(std::span<const Tip> tips, std::span<const WeightPoint> weights,
                                           const BenchMetrology& bench);

// Evaporation that changes over the run by more than allowed_g_h, or whose mean is not what the bench states.
// Weighted line through the losses, scale from their own scatter, t-tests; alpha is shared by both. Needs 5.
std::vector<Finding> check_evaporation(std::span<const LossPoint> losses, const Uncertain& stated_g_h,
                                       double allowed_g_h = 0.05,
                                       double false_alarm_rate = default_false_alarm_rate);

}  // namespace tipwright::calib
