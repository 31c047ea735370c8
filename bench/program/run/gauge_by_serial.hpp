// What `calibrate SERIAL` leaves unsaid: the gauge from its file or the register, the plan from the settings,
// and a new folder for the run.
#pragma once

#include "bench/program/common_options.hpp"
#include "bench/program/run/calibrate.hpp"

namespace tipwright::program {

// The options with gauge, bench, plan and out. Faults: usage (what is missing, and where it can be said),
// those of the register, file_unwritable.
Result<CalibrateOptions> with_settings(const CommonOptions& common, CalibrateOptions options);

}  // namespace tipwright::program
