// Check gauge: what repeated calibrations of one gauge say about the bench: control charts, parts of
// variance, and the smallest uncertainty the laboratory may claim.
// The chart that decides is that of each run's mean error over the intensities all runs have: what moves a
// bench (balance, density, evaporation, area) moves all intensities together. It has all rules. The charts of
// single intensities have limits only, at a tail divided by their number, so that together they give no more
// false alarms than one.
// One gauge cannot tell whether it or the bench has moved: a second one, or E_n with another laboratory, can.
// Errors of indication in per cent, intensities in mm/h. Domain: calib/laboratory/control_chart.hpp.
// Faults: too_few_points (runs, or no intensity in common), those of the charts.
#pragma once

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

    // The last run is out of control in one of the charts: no certificate before the reason is known.
    bool alarm() const;
};

Result<CheckAnalysis> analyse_check_gauge(const std::vector<CheckRun>& runs,
                                          const ControlSettings& settings = {});

}  // namespace tipwright::calib
