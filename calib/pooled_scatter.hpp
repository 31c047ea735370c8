// Pooled scatter: the scatter of single tips belongs to the gauge, not to the step, so steps that agree on it
// share one estimate (JCGM 100:2008 clause 4.2.4: pooled standard deviation). A dozen tips alone say their
// own scatter to no better than 20 %, which makes weights and intervals too sure of themselves. What is
// pooled is the scatter in mL: the threshold of the mechanism varies in volume whatever the flow. Only
// estimates of the same kind (TipScatter::from) are pooled, and only if Bartlett's test does not find them
// unequal (Bartlett 1937; NIST/SEMATECH e-Handbook 1.3.5.7), at 99 %: a rate that shakes the gauge keeps its
// own. Emptyings of a siphon come with and without a tip of less water, so a variance of their groups is
// worth a third of its degrees of freedom in that test; a step that false tips have spoilt still stands out.
#pragma once

#include <cstddef>
#include <vector>

#include "calib/observation.hpp"

namespace tipwright::calib {

struct ScatterSample {
    double sd = 0;
    double dof = 0;
};

// Bartlett's statistic over its chi-squared limit; at most 1 when the samples agree. Samples without degrees
// of freedom or spread are left out; fewer than two samples agree.
double bartlett_ratio(const std::vector<ScatterSample>& samples, double confidence);

// The scatter the budget of one of the observations may use: pooled where it may be, else its own.
TipScatter pooled_scatter(const std::vector<StepObservation>& observations, std::size_t of);

}  // namespace tipwright::calib
