// Runs of a check gauge, from records and certificates or from the register, and whether they let
// certificates go out.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bench/program/register/session.hpp"
#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::program {

struct CheckRuns {
    std::vector<calib::CheckRun> runs;          // by time
    report::LaboratoryReport about;             // gauge, laboratory, marks and names of the runs
    std::vector<calib::ControlAction> actions;  // of a register: findings of the check gauge
};

// `named`: files, or one serial number of the register. Incomplete records do not count.
// Faults: file_missing (neither), inconsistent (of two gauges, or of virtual and real benches), those of
// reading.
Result<CheckRuns> check_runs(const std::vector<std::string>& named, const Session& session);

// Analysed; the report is complete.
Result<report::LaboratoryReport> laboratory_report(CheckRuns given, const calib::ControlSettings& settings);

// "2031-05-04 balance levelled again": a date no later than `today`, and words. Fault: bad_value.
Result<calib::ControlAction> control_action(const std::string& text, const std::string& today);

// How a check gauge stands on a day.
enum class ControlStanding {
    in_control,
    not_known,  // too few runs, or none that count
    long_ago,   // the last is more than a year old: a bench that nobody looked at since
    alarm,      // and nobody has stated what was done
    answered,   // what was done is stated, and no run has shown yet that it helped
};
const char* name_of(ControlStanding standing);

struct ControlState {
    ControlStanding standing = ControlStanding::in_control;
    std::string on;            // day of the alarm's run; of the last one where that is long ago
    std::optional<Fault> why;  // it is not known
};

// Of the register's runs of this gauge. Faults: those of reading them. `now`: UTC.
Result<ControlState> control_state(report::Register& reg, const std::string& serial, const std::string& now);

// Before certificates go out (ISO/IEC 17025:2017, 7.7): whether the register's runs of this gauge are in
// control. Fault: not_permitted (they are not, too few to tell, or the last is more than a year old: a bench
// that nobody looked at since; common practice, no source), those of check_runs(). `now`: UTC.
Outcome in_control(report::Register& reg, const std::string& serial, const std::string& now);

}  // namespace tipwright::program
