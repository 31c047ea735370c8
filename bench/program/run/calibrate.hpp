// What calibrate is asked to do.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/run/enter_result.hpp"

namespace tipwright::program {

struct CalibrateOptions {
    std::string serial;  // of the register, or a gauge file's name: instead of gauge, plan and out
    std::string bench;
    std::string gauge;
    std::string plan;  // empty: one of the two that follow
    std::string plan_as_found, plan_as_left;
    std::filesystem::path out;
    std::uint64_t seed = 1;
    std::optional<double> speed;  // virtual bench at wall-clock speed times this; none: lockstep
    std::string started_at;       // virtual bench only; empty: a fixed date
    std::string paper = "A4";
    bool as_left = false;
    std::string operator_name;     // who measures; empty: whom the bench's file names
    EnterOptions entering;         // into which register; with the folder of all runs
    std::string side_up;           // A, B, unknown; empty: as the kind says, or whoever is asked
    bool within_declared = false;  // leave out steps beyond what the maker of the gauge declares
    std::string reason;            // why an overdue calibration or a failed check is accepted
    std::filesystem::path checks;  // file of bench checks; empty: beside the bench description
};

}  // namespace tipwright::program
