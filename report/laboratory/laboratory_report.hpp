// LaboratoryReport: what a check gauge's repeated calibrations say about the laboratory: in control or not,
// what repeating, day, bench and operator each add, and the table of capabilities (CMC) for its accreditation
// body. As JSON, CSV, lines for a terminal, PDF; mathematics in calib/laboratory. Per cent, mm/h.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/laboratory/check_gauge.hpp"
#include "report/certificate/chart.hpp"
#include "report/certificate/stationery.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

struct LaboratoryReport {
    std::string gauge;  // kind and serial number
    std::string serial;
    std::string laboratory;
    bool invented = false;
    Origin origin = Origin::real_bench;
    std::vector<std::string> runs;  // certificate numbers or files, as the analysis has them
    calib::ControlSettings settings;
    calib::CheckAnalysis analysis;
};

std::string laboratory_json(const LaboratoryReport& report);
std::string control_csv(const LaboratoryReport& report);     // a line a run and chart
std::string capability_csv(const LaboratoryReport& report);  // a line an intensity
// The same as [[capability]], for the file of a bench.
std::string capability_toml(const LaboratoryReport& report);
std::string laboratory_text(const LaboratoryReport& report);
// Of an alarm: since when it stands, and whether it waits for a statement or for a run. Empty: none.
std::string alarm_sentence(const LaboratoryReport& report, const certificate::Words& words);
// One a signal of the run whose alarm stands, or of all runs.
std::vector<std::string> signal_sentences(const LaboratoryReport& report, const certificate::Words& words,
                                          bool of_alarm_only);

certificate::Chart control_picture(const LaboratoryReport& report, const certificate::Words& words);
certificate::Chart weighted_picture(const LaboratoryReport& report, const certificate::Words& words);
certificate::Chart capability_picture(const LaboratoryReport& report, const certificate::Words& words);

// Faults: those of the fonts.
Result<std::string> draw_laboratory(const LaboratoryReport& report, const Stationery& paper);

}  // namespace tipwright::report
