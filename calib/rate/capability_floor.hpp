// What keeps every stated U of the error of indication from falling below the laboratory's capability (CMC,
// BenchMetrology::capability; ILAC-P14:09/2020: "the uncertainty ... shall not be smaller than the CMC", the
// wording from memory): a component of the step's budget of its own, just large enough that k u is the CMC.
// Verdict, E_n, drift and documents follow from it; the correction of a logger takes the same floor. Its
// cause is common to all steps of a run, so that no mean averages it away. Intensities mm/h, U and u per
// cent.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

inline constexpr std::string_view capability_id = "capability";

// Straight lines between the table's intensities, the nearest beyond them; without an intensity the largest
// of all. None: the table is empty.
std::optional<double> least_U_percent(const std::vector<CapabilityPoint>& table,
                                      std::optional<double> intensity_mm_h);

// Of an intensity further out than measured flows miss the ones set.
bool beyond_capability(const std::vector<CapabilityPoint>& table, double intensity_mm_h);

// Standard uncertainty to be added to that of x, in its unit, so that U is least_U, which is stated at 95 %
// and brought to this coverage; 0 where U is not smaller. It has infinite degrees of freedom.
double lacking_u(const Uncertain& x, double least_U, double coverage);
// x with it.
Uncertain raised(const Uncertain& x, double least_U, double coverage);

// Adds the component to the budget, or takes it away where it is no longer needed. Nothing without a table.
// Fault: not_finite.
Outcome raise_to_capability(StepResult& step, const std::vector<CapabilityPoint>& table, double coverage,
                            const std::string& run);

// Was U raised to the CMC?
bool is_raised(const StepResult& step);

// U of the error by the budget alone, before it was raised: what decides when a collect is long enough.
double measured_U_percent(const StepResult& step, double coverage);

}  // namespace tipwright::calib
