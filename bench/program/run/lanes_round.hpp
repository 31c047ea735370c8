// A round of lanes in the work folder: which run is which lane's, kept from when the round begins until every
// lane has come to its end, so that the same command goes on with it. In the file lanes-NAME.toml there.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::program {

struct RoundLane {
    std::string name;
    std::string serial;
    std::string day;  // on which a run of it that begins now begins
    bool as_left = false;
};

// The folder of each lane's run, made where it is new: that of the round which is not at its end, else new
// ones, by serial, day and state as calibrate has them. `lanes`: the file of the lanes, or its name.
// Faults: those of reading and writing.
Result<std::vector<std::filesystem::path>> folders_of_round(const std::filesystem::path& work,
                                                            const std::string& lanes,
                                                            const std::vector<RoundLane>& wanted);
// Every lane has come to its end: the next round begins anew.
void end_round(const std::filesystem::path& work, const std::string& lanes);

}  // namespace tipwright::program
