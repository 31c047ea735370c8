// Pooled scatter: the scatter of single tips belongs to the gauge, not to the step, so steps that agree on it
// share one estimate (JCGM 100:2008 clause 4.2.4: pooled standard deviation). A dozen tips alone say their
// own scatter to no better than 20 %, which makes weights and intervals too sure of themselves. What is
// pooled is the scatter in mL: the threshold of the mechanism varies in volume whatever the flow. Only
// estimates of the same kind (TipScatter::from) are pooled, and only if Bartlett's test does not find them
// unequal (Bartlett 1937; NIST/SEMATECH e-Handbook 1.3.5.7), at 99 %: a rate that shakes the gauge keeps its
// own.
// A siphon's scatter arises once an emptying, so what is pooled is that of an emptying; where an emptying has
// more tips, each has less of it. It is skew: a tip caught by the siphon running dry holds up to a part p
// less (Gauge::siphon_tail_percent), and the last of an emptying is caught with probability p, anywhere in
// its movement. That has the variance p^3/3 - p^4/4 in squared tips (own derivation, checked by simulation).
// Steps that saw few such tips are too sure and too high at once; so this value is pooled with what was seen,
// as an estimate known to a tenth (common practice, no source: 50 degrees of freedom, JCGM 100:2008 G.4.2),
// while a variance from J emptyings counts like one of J/3 normal values.
#pragma once

#include <cstddef>
#include <vector>

#include "calib/base/gauge.hpp"
#include "calib/tips/observation.hpp"

namespace tipwright::calib {

struct ScatterSample {
    double sd = 0;
    double dof = 0;
};

// Bartlett's statistic over its chi-squared limit; at most 1 when the samples agree. Samples without degrees
// of freedom or spread are left out; fewer than two samples agree.
double bartlett_ratio(const std::vector<ScatterSample>& samples, double confidence);

// Standard deviation of what one emptying of a siphon holds, beyond that of its tips, in per cent of one
// tip's volume; 0 where the gauge states no tail.
double siphon_tail_sd_percent(const Gauge& gauge);

// The scatter the budget of one of the observations may use: pooled where it may be, else its own.
TipScatter pooled_scatter(const std::vector<StepObservation>& observations, std::size_t of,
                          const Gauge& gauge);

}  // namespace tipwright::calib
