// Tip series: the tips of one collect with the water behind each, as far as the balance tells; what the tip
// checks look at.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/tips/tips.hpp"
#include "calib/weighing/metrology.hpp"
#include "calib/weighing/weight_window.hpp"

namespace tipwright::calib {

// After this many time constants of drain and balance filter the tip checks take a discharge for arrived.
inline constexpr double arrived_after_lags = 5;

// Interval k ends with tip k + 1 of the collect and filled the compartment that tipped then. NaN stands where
// a tip cannot be weighed singly.
struct TipSeries {
    std::vector<double> interval_s;
    // Straight inlet: weighed on the plateau after the tip. Siphon: worked out from what has arrived on the
    // balance before the next tip, good to a tenth of a tip.
    std::vector<double> mass_g;
    // Mean weight over the interval that begins with tip k + 1, less that over interval k: what each tip adds
    // in steady flow, however fast. Straight inlet only.
    std::vector<double> rise_g;
    // Change of the weight while nothing was under way, in the pause after tip k + 1.
    std::vector<double> pause_change_g;
    std::vector<double> flow;  // pump's commanded flow over the interval, any unit; empty: constant
    int compartments = 2;
    bool regular = true;               // false: a siphon makes the intervals irregular
    double nominal_mL = 0;             // of one tip; 0: not known
    double flow_mL_s = 0;              // through the gauge, measured; 0: not known
    double longest_in_emptying_s = 0;  // siphon: tips further apart belong to two emptyings
};

// The tips opening to closing of a collect.
TipSeries series_of(std::span<const Tip> tips, std::size_t opening, std::size_t closing,
                    std::span<const WeightPoint> weights, const Gauge& gauge, const BenchMetrology& bench);

}  // namespace tipwright::calib
