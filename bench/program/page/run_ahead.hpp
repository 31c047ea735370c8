// What stands before a run that somebody wishes for at the page: which benches and plans there are, whether
// the bench may be used today, and how long each step takes.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "bench/program/page/register_desk.hpp"
#include "bench/program/run/calibrate.hpp"

namespace tipwright::program {

// A serial becomes a word of a command line and the name of a folder. Fault: bad_value.
Outcome check_serial(const std::string& serial);

using GaugeOf = std::function<Result<page::GaugeAtDoor>(const std::string& serial)>;
// Fills in what can be said; the fault is why the run cannot begin.
Outcome look_ahead(const DeskOptions& options, page::RunAhead& ahead, const GaugeOf& gauge_of);

// The options of `calibrate` for it, with the gauge's file and a new folder.
Result<CalibrateOptions> completed_of(const DeskOptions& options, const page::RunAhead& ahead);

// When a virtual run of that gauge begins, not before `now`: its bench's time may be ahead of the wall's, and
// what was adjusted is measured after what was found.
std::string virtual_start(const std::filesystem::path& work, const std::string& serial,
                          const std::string& now);

}  // namespace tipwright::program
