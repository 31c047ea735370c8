// What earlier adjustments teach: the volume a turn of a stop screw brings.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bench/program/common_options.hpp"
#include "calib/decision/adjustment.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct AdjustOptions {
    std::filesystem::path found;
    std::filesystem::path left;  // empty: not yet adjusted
    std::optional<double> at_mm_h;
    std::optional<double> mL_per_turn;
    double mL_per_turn_u = 0;
    double setting_u_mL = 0.02;
    std::vector<std::string> earlier;  // "FOUND,LEFT,TURNS_A,TURNS_B"
};

// From --per-turn or else the gauge kind's [adjustment], together with the pairs of records of --earlier.
// Nothing when none of them says anything. Faults name the argument.
Result<std::optional<calib::ScrewSensitivity>> screw_sensitivity(const CommonOptions& common,
                                                                 const AdjustOptions& options,
                                                                 const report::Record& found);

}  // namespace tipwright::program
