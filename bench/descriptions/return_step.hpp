// The return of a plan: after its last step the rate of its first one again, to see whether the gauge is
// still the one it was. Two compartments tell of a change by their difference; a gauge of one compartment
// could have changed between two steps unseen (calib/decision/gauge_changes.hpp), so it alone returns.
#pragma once

#include "bench/descriptions/descriptions.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// The plan for this gauge: where [return] is given and the gauge has one compartment, with that step at its
// end, in its text too, so that a journal holds what was run; otherwise as it is. Faults: those of
// parse_plan.
Result<PlanDescription> with_return(const GaugeDescription& gauge, const PlanDescription& plan);

}  // namespace tipwright::bench
