// A check in the field: what is asked of the command, and of whoever else has one evaluated and kept.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/register/session.hpp"
#include "calib/decision/field_check.hpp"
#include "report/field_check/field_check_page.hpp"

namespace tipwright::program {

struct FieldCheckOptions {
    std::string serial;  // of the register: the check enters its life
    std::string gauge;   // or a file
    int tips = 0;
    std::optional<double> poured_mL;
    double poured_u_mL = 0.5;
    double retained_mL = 0;
    double retained_u_mL = 0.5;
    std::optional<double> collected_g;
    double collected_u_g = 0.5;
    double lost_g = 0;
    double lost_u_g = 0.5;
    double water_temperature_C = 20;
    std::optional<double> logged_depth_mm;
    std::optional<double> duration_s;
    std::optional<double> limit_percent;
    bool began_on_tip = false;
    bool ended_on_tip = false;
    std::string reason;  // why an error beyond belief is kept
    std::string made_on, made_by, note;
    Session session;
    std::filesystem::path out;
    std::string language = "en";
    std::string paper = "A4";
};

struct FieldCheckDone {
    report::FieldCheckFacts facts;
    calib::FieldCheck check;
};

// Of the gauge with options.serial, evaluated and entered into its life by `actor` in the register `reg`.
// Faults: as of the command, which is not asked anything;
// inconsistent for an error beyond belief without a reason.
Result<FieldCheckDone> check_in_field(const CommonOptions& common, report::Register& reg,
                                      const report::Actor& actor, FieldCheckOptions options);

}  // namespace tipwright::program
