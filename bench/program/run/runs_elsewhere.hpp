// Runs whose folder was named with --out and lies outside the work folder: the work folder keeps a note of
// them, a file for each gauge, so that `next` and whatever else takes a serial finds them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// Where notes stand; no serial's own folder begins so.
inline constexpr const char* notes_folder = ".elsewhere";

// Absolute, oldest note first. A note that cannot be read tells of none.
std::vector<std::filesystem::path> runs_elsewhere(const std::filesystem::path& work,
                                                  const std::string& serial);
// Notes this run. Nothing is done where the work folder knows it by itself, nor where nobody named a work
// folder and none is there. Faults: file_unwritable, disk_full; bad_value (a note that cannot be read).
Outcome note_run(const std::filesystem::path& work, const std::string& serial,
                 const std::filesystem::path& run);
// For whoever runs it.
std::string not_noted(const std::filesystem::path& work, const Fault& why);

}  // namespace tipwright::program
