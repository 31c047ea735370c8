// The line of volume per tip over flow that a siphon's gauge follows, by its calibration and by what is known
// of siphons. The tip that is falling as the siphon runs dry takes in less: one emptying ends so with
// probability p, anywhere in the fall, and its last tip then lacks up to p v (Gauge::siphon_tail_percent;
// calib/tips/pooled_scatter.hpp), in the mean of emptyings p^2 v / 2. One emptying delivers S F / (F - Q), S
// the siphon's volume and F the flow it runs at, the more the more flows in meanwhile, so
//   v(Q) = v_end (1 - p^2/2 v/S (1 - Q/F)),  of slope  p^2 v^2 / (2 S F).
// Own derivation; checked by simulation in tests/calib/rain/siphon_line_test.cpp. The slope, a few hundredths
// of a second, is less than most calibrations can see: their choice falls on a constant, which is the mean
// over the calibrated flows, while rain comes at the lowest of them. The slope is the mean of the calculated
// one and the one seen, weighted by their variances (JCGM 100:2008, as for independent estimates); the
// volume at the calibration's mean flow, where its slope and its volume are not correlated, stays as
// measured. Of F is known that it is above the gauge's highest flow, or the siphon would run over; below
// twice that, rectangular, is common practice without a source. p is known as pooled_scatter.cpp has it.
// Units mL, mL/s, s.
#pragma once

#include <optional>

#include "calib/base/gauge.hpp"
#include "calib/rate/rate_model.hpp"

namespace tipwright::calib {

// A line with its covariance; none for a straight inlet, without the siphon's numbers, and where constant and
// line were both rejected or never fitted.
std::optional<RateCandidate> siphon_line(const RateModel& model, const Gauge& gauge);

}  // namespace tipwright::calib
