// IntercomparisonReport: scores of laboratories that measured one item, at one or several places of its range
// (intensities). From a table: as JSON, CSV, lines for a terminal, PDF. Mathematics in calib/laboratory.
#pragma once

#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/laboratory/intercomparison.hpp"
#include "report/certificate/chart.hpp"
#include "report/laboratory/laboratory_report.hpp"

namespace tipwright::report {

struct ComparedPlace {
    std::string at;  // as the table has it; empty: one place only
    std::vector<calib::Participant> participants;
    std::optional<calib::AssignedValue> reference;
    calib::Intercomparison scores;
};

struct IntercomparisonReport {
    std::string name;       // of the table
    bool invented = false;  // a remark of the table says so
    std::vector<ComparedPlace> places;
};

// Columns: participant, value; perhaps U, k (2), at. A row whose participant is "reference" is the assigned
// value of its place. Remarks (#) with the word "invented" mark the report so. sigma_pt: 0: none.
// Faults: those of CSV; missing_field, bad_value, duplicate with file:line; those of the scores.
Result<IntercomparisonReport> read_intercomparison(std::string_view text, const std::string& name,
                                                   double sigma_pt);

std::string intercomparison_json(const IntercomparisonReport& report);
std::string intercomparison_csv(const IntercomparisonReport& report);
std::string intercomparison_text(const IntercomparisonReport& report);
certificate::Chart intercomparison_picture(const ComparedPlace& place, const certificate::Words& words);
Result<std::string> draw_intercomparison(const IntercomparisonReport& report, const Stationery& paper);

}  // namespace tipwright::report
