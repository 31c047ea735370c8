// What earlier adjustments teach: the volume a turn of a stop screw brings.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/adjustment.hpp"
#include "bench/program/common_options.hpp"
#include "calib/decision/adjustment.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct AdjustOptions {
    std::filesystem::path found;  // file or folder; or the serial of a gauge with runs in `work`
    std::filesystem::path work = "work";
    std::filesystem::path left;  // empty: not yet adjusted
    std::optional<double> at_mm_h;
    std::optional<double> mL_per_turn;
    double mL_per_turn_u = 0;
    double setting_u_mL = 0.02;
    std::vector<std::string> earlier;  // "FOUND,LEFT,TURNS_A,TURNS_B"
};

// What the record's gauge kind says, if its file is at hand. Faults: those of reading it.
Result<bench::StopScrews> stop_screws_of(const CommonOptions& common, const report::Record& record);

// A and B are the sides that a person can touch; of a spoon always.
bool sides_known(const report::Record& record);

// From --per-turn or else the gauge kind's [adjustment], together with the pairs of records of --earlier.
// Nothing when none of them says anything. Faults name the argument.
Result<std::optional<calib::ScrewSensitivity>> screw_sensitivity(const AdjustOptions& options,
                                                                 const report::Record& found,
                                                                 const bench::StopScrews& of_kind);

// What the plan wants of an adjusted gauge: its limits and rule.
calib::AdjustmentGoal adjustment_goal(const calib::Plan& plan);

// From the steps of which something is stated; a remark names the others.
Result<calib::AdjustmentAdvice> advise(const report::Record& found, const calib::AdjustmentGoal& goal,
                                       const std::optional<calib::ScrewSensitivity>& sensitivity,
                                       double setting_u_mL);

}  // namespace tipwright::program
