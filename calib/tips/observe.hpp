// Observation of one collect from tips and balance readings.
// A reading belongs to a tip by its phase: the mean of the balance over the same window after the opening
// and after the closing tip. In steady flow whatever lags (drain, filter, evaporation within the window)
// is then equal at both and cancels. The window lies on the plateau before the next tip when the interval
// leaves one (WeighingMethod::plateau), otherwise it is one whole mean interval (staircase).
// Collects open and close on tips; with two compartments over an even number; with a siphon instead on tips
// that end an emptying, so that whole cycles are weighed, whatever their number.
// Source of the flying method: ISO 4185:1980; common practice for the plateau, no source.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/tips/observation.hpp"
#include "calib/tips/tips.hpp"
#include "calib/weighing/metrology.hpp"
#include "calib/weighing/weight_window.hpp"

namespace tipwright::calib {

// Where in the interval after a tip its reading is taken, seconds after the tip.
struct ReadingWindow {
    WeighingMethod method = WeighingMethod::plateau;
    double from_s = 0;
    double to_s = 0;
};

// The window for tips whose shortest following interval is gap_s, mean interval mean_s.
ReadingWindow reading_window(double gap_s, double mean_s, const BenchMetrology& bench);

// The window for the collect between two tips. Straight inlet: the shortest interval bounds it. Siphon:
// the pause after an emptying, where the opening tip was followed by one.
ReadingWindow reading_window(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                             const Gauge& gauge, const BenchMetrology& bench);

// Shortest pause after a tip on which a siphon gauge's collect may open or close, seconds.
double siphon_pause_s(const BenchMetrology& bench);

// Scatter of single tips from their intervals, each compartment about its own mean.
// first_side: 0 when the first interval filled compartment A. Empty result below 4 intervals.
TipScatter scatter_from_intervals(std::span<const double> intervals_s, int compartments);

// Difference of the compartments from alternate intervals. Nothing for one compartment or below 4.
std::optional<CompartmentBalance> balance_from_intervals(std::span<const double> intervals_s,
                                                         bool first_is_a);

// The same of a siphon's gauge, from the intervals within emptyings (shorter than longest_s), which the
// siphon's own flow fills, each side about its own. Nothing below 4 of either side.
std::optional<CompartmentBalance> balance_within_emptyings(std::span<const double> intervals_s,
                                                           double longest_s, bool first_is_a);

// The collect between tips[opening] and tips[closing], readings in time order reaching the end of the
// window after the closing tip. Fault: too_few_points when a window holds no reading.
Result<StepObservation> observe_collect(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                                        std::span<const WeightPoint> weights, const Gauge& gauge,
                                        const BenchMetrology& bench);

}  // namespace tipwright::calib
