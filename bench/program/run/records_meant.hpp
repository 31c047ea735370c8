// What is meant by a record on the command line: a file, a run's folder, or a gauge's serial number, which
// stands for its newest runs in the work folder.
#pragma once

#include <filesystem>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

// A file as it is; of a folder its record; of a serial the newest run of that state. Fault file_missing: none
// of them.
Result<std::filesystem::path> record_meant(const std::filesystem::path& given,
                                           const std::filesystem::path& work, bool as_left);
// A serial stands for the records of its newest round, as found before as left, a folder for the one in it;
// all else stays as it is.
std::vector<std::filesystem::path> records_meant(const std::vector<std::filesystem::path>& given,
                                                 const std::filesystem::path& work);
// The same by folders: of a serial those of its newest runs, with all that stands in them.
std::vector<std::filesystem::path> runs_meant(const std::vector<std::filesystem::path>& given,
                                              const std::filesystem::path& work);

}  // namespace tipwright::program
