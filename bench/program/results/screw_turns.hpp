// What earlier adjustments teach: the volume a turn of a stop screw brings.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bench/program/commands.hpp"
#include "calib/decision/adjustment.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

// From --per-turn or else the gauge kind's [adjustment], together with the pairs of records of --earlier.
// Nothing when none of them says anything. Faults name the argument.
Result<std::optional<calib::ScrewSensitivity>> screw_sensitivity(const CommonOptions& common,
                                                                 const AdjustOptions& options,
                                                                 const report::Record& found);

}  // namespace tipwright::program
