// What `calibrate SERIAL` leaves unsaid: the gauge from its file or the register, the plan from the settings,
// and a new folder for the run.
#pragma once

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/common_options.hpp"
#include "bench/program/run/calibrate.hpp"
#include "report/register/register.hpp"

namespace tipwright::program {

// The options with gauge, bench, plan and out. Faults: usage (what is missing, and where it can be said),
// those of the register, file_unwritable.
Result<CalibrateOptions> with_settings(const CommonOptions& common, CalibrateOptions options);

// The gauge as the register describes it, on its kind. Faults: those of the kind's file; of the gauge with
// the command that mends it in the register.
Result<bench::GaugeDescription> gauge_of_register(const CommonOptions& common, report::Register& reg,
                                                  const report::GaugeEntry& gauge);

}  // namespace tipwright::program
