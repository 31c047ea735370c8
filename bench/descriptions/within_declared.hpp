// A plan against the highest intensity the maker of the gauge declares, before any water flows.
#pragma once

#include "bench/descriptions/descriptions.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Fault: inconsistent, naming the steps (or the wetting) beyond what is declared; remedy for one line.
Outcome check_within_declared(const GaugeDescription& gauge, const PlanDescription& plan);

// The plan without the steps beyond what is declared, its text cut alike, so that a journal holds what was
// run; a comment in it says what was left out. Faults: inconsistent when no step is left, or the wetting lies
// beyond; those of parse_plan.
Result<PlanDescription> cut_to_declared(const GaugeDescription& gauge, const PlanDescription& plan);

}  // namespace tipwright::bench
