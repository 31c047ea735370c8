// Check gauge: what repeated calibrations of one gauge say about the bench: control charts, parts of
// variance, and the smallest uncertainty the laboratory may claim.
// The chart that decides is that of each run's mean error over the intensities all runs have: what moves a
// bench (balance, density, evaporation, area) moves all intensities together. It has all rules. The charts of
// single intensities have limits only, at a tail divided by their number, so that together they give no more
// false alarms than one.
// An alarm stands, however good the runs after it, until a person states what was done about it (ISO/IEC
// 17025:2017, 7.7.3 and 7.10: results outside pre-defined criteria are acted upon, and who lets work go on is
// named): a moved bench gives a good run now and then by chance. What was done on a day answers the runs up
// to that day; the charts begin anew after the last run that it answers, and a run after it has to be in
// control. Of the runs that set the limits themselves only those beyond a limit stand. One gauge cannot tell
// whether it or the bench has moved: a second one, or E_n with another laboratory, can. Errors of indication
// in per cent, intensities in mm/h. Domain: calib/laboratory/control_chart.hpp. Faults: too_few_points (runs,
// or no intensity in common), those of the charts.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/laboratory/capability.hpp"
#include "calib/laboratory/control_chart.hpp"
#include "calib/laboratory/variance_parts.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::calib {

struct CheckRun {
    std::string name;    // of the record
    std::string moment;  // ISO 8601; runs are in order of it
    std::string bench;
    std::string operator_name;
    std::vector<StepResult> steps;
};

// What was done about an alarm, or found to be its reason.
struct ControlAction {
    std::string on;  // ISO date
    std::string what;
};

struct CheckChart {
    double intensity_mm_h = 0;  // 0: the mean of all
    ControlChart chart;
    VarianceParts parts;
};

struct CheckAnalysis {
    std::vector<std::string> moments;  // of the runs
    std::vector<double> intensities_mm_h;
    std::vector<CheckChart> charts;        // the mean first, then by intensity
    std::vector<Capability> capabilities;  // by intensity

    std::vector<ControlAction> actions;  // by date
    // The first run with a signal that nobody answered, else the last run where it has a signal: no
    // certificate before the reason is known.
    std::optional<std::size_t> alarm_at;
    bool answered = false;  // alarm_at: what was done is stated, and no run has shown yet that it helped
    bool alarm() const { return alarm_at.has_value(); }
};

Result<CheckAnalysis> analyse_check_gauge(const std::vector<CheckRun>& runs,
                                          const ControlSettings& settings = {},
                                          std::vector<ControlAction> actions = {});

}  // namespace tipwright::calib
