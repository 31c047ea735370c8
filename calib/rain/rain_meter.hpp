// RainMeter: clean tips in order of time to amounts of rain, in one pass and constant memory.
//   A tip's depth h(T) (calib/rain/depth_curve.hpp) is spread evenly over the interval since the tip before.
//   Where the interval is longer than spread_limit_s, nobody knows when in it the rain fell: half the depth
//   is laid behind the tip before (the bucket then held, in the mean, half a tip), half before the tip, over
//   the interval of the neighbouring tip. So an isolated first tip counts half in its own event, and a last
//   one half more. The tip still filling: at a time within an interval the bucket holds the share f of a tip,
//   with the variance h^2 f (1 - f) c. Between tips of one shower the inflow is taken for a gamma process, so
//   that f is Beta(a f, a (1 - f)) and c = 1/(a + 1) (Emery, Hoyle & Macrina 2004 name it gamma bridge; from
//   memory); a comes from how neighbouring intervals differ: T1/(T1 + T2) is Beta(a, a), of variance 1/(4 (2a
//   + 1)). In a dry stretch c = 1/3: f = 1/2 with the variance of a rectangular distribution over a whole
//   tip. A siphon's chamber is another such part. Bursts within an interval: what a bucket misses goes with
//   the square of the rate, so the mean rate of an interval says too little; by how much the tips tell as far
//   as they see it, and the rest lies between steady and scaling (tip_pace.hpp); common to all tips. When the
//   tips of a count came nobody knows: what lies within their interval is such a rest. Tips of a siphon
//   come in bunches: its rate is the mean over several emptyings, and what the first of a shower brings fell
//   while the siphon filled. Too few tips for a mean tell no rate: it is taken as before, else as at rest.
//   The first 2000 tips wait until they all have told how they differ.
// The fullest minutes of a year are those by what the tips tell; between tips that wander as a bridge a place
// nearby is fuller, by the mean height of the bridges at both ends, so U of them holds a rectangle from
// nothing to that, upward from the value. Amounts of a period are added up with their modes, so that u_common
// is exact and u_filling counts its ends only. Coverage of U: tests/figures/rain_figures.cpp.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/rain/depth_curve.hpp"
#include "calib/rain/rain_amount.hpp"
#include "calib/tips/observation.hpp"

namespace tipwright::calib {

// Drift from one calibration (as left) to the next (as found): kept as an uncertainty of the first,
// half-width the difference, or followed in between by a straight line in time, with what a sudden change at
// any time would differ.
enum class DriftAs { uncertainty, interpolation };

// A certificate's reign: from its own date to the next calibration's.
struct RainCalibration {
    double from_s = -std::numeric_limits<double>::infinity();
    DepthCurve left;
    std::optional<DepthCurve> found;  // of the next calibration, and when
    double found_at_s = 0;
};

struct RainGauge {
    double nominal_mm = 0.2;
    double scatter_relative = 0;   // of single tips, standard deviation
    double a_excess_relative = 0;  // compartment A over the mean of both
    double siphon_mm = 0;          // depth of one emptying; 0: straight inlet
    double max_intensity_mm_h = 0;
};

// What a calibration says of single tips. observations: of its steps.
RainGauge rain_gauge(const Gauge& gauge, const std::vector<StepObservation>& observations);

struct RainSettings {
    double utc_offset_s = 0;        // of the days, months and years
    double spread_limit_s = 3600;   // longest interval a tip is spread over
    double event_gap_s = 6 * 3600;  // dry time that parts two events
    double step_s = 60;             // of intensities
    double resolution_s = 0.001;    // of the times
    double count_interval_s = 0;    // of tips counted in it; 0: times of tips
    DriftAs drift = DriftAs::uncertainty;
    double drift_per_year = 0;  // relative half-width after a calibration that no later one follows
    double coverage = default_coverage;
};

struct RainTip {
    double time_s = 0;
    double paced_s = 0;  // interval for the correction where it is not the distance to the tip before
    bool unknown_interval = false;  // after a gap or a change of the clock
    bool one_contact = false;       // counted by one of two contacts
};

namespace rain {
struct Piece;
}

class RainMeter {
public:
    using Sink = std::function<void(const RainAmount&)>;
    // For rain::RainPeriods (rain_periods.hpp), which may work on them elsewhere and later.
    using Pieces = std::function<void(const rain::Piece&)>;
    // calibrations by ascending from_s, at least one; tips before the first use it too.
    RainMeter(const RainGauge& gauge, std::vector<RainCalibration> calibrations, const RainSettings& settings,
              Sink sink);
    RainMeter(const RainGauge& gauge, std::vector<RainCalibration> calibrations, const RainSettings& settings,
              Pieces pieces);
    ~RainMeter();
    RainMeter(const RainMeter&) = delete;
    RainMeter& operator=(const RainMeter&) = delete;

    void tip(const RainTip& tip);
    // Of the tips that follow, in how much time they were counted; unknown: after a gap or a change of the
    // clock.
    void count(double from_s, double until_s, int tips, bool unknown);
    void gap(double from_s, double until_s);     // no data
    void covers(double from_s, double until_s);  // data, rain or none; a tip says so itself
    void finish();
    RainSigns& signs();  // of this and of what feeds it

private:
    struct Impl;
    std::unique_ptr<Impl> impl_;
};

}  // namespace tipwright::calib
