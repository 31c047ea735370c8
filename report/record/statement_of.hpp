// The statement of a record: calib/decision/statement.hpp, with what the record says of the instruments.
// Roles that make a quantity traceable: mass balance, volume volume measure, time counter or clock,
// temperature climate or thermometer, length caliper where the rim of this gauge was measured.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/statement.hpp"
#include "report/record/record.hpp"

namespace tipwright::report {

// Each quantity that the result needs: is a calibration named of what measured it, and was it not due on the
// day of use?
calib::Traceability traceability_of(const Record& record);

// The catch diameter is the kind's: this gauge's rim was not measured.
bool is_rim_nominal(const Record& record);

// What the bench's description says of an instrument's traceability; nothing of one that a quantity rests on
// and that names no certificate: words are no evidence.
std::string traceability_said(const InstrumentUsed& used);

calib::Statement statement_of(const Record& record);

// Sets record.statement; call it when all else but number, dates and persons is there.
void state(Record& record);

// May a certificate be issued of it? Fault not_permitted: nothing can be stated, or what is reserved was not
// accepted; the remedy says how.
std::optional<Fault> check_statement(const Record& record);

// "tips doubted at step 3", for messages and files that have no words at hand.
std::vector<std::string> reservation_notes(const Record& record);

// Nothing is stated of the others.
std::vector<calib::StepResult> stated_steps(const Record& record);
bool is_stated(const Record& record, int step);
// The numbers of those others that the evaluation has; a paper's record has none of them any more, and its
// statement alone still names them (calib::Statement::withheld_steps).
std::vector<int> steps_not_stated(const Record& record);
// What the plan set for a step, known of those too; 0: no plan says.
double planned_intensity_mm_h(const Record& record, int step);
// "2, 4, 5", where no words are at hand.
std::string step_list(const std::vector<int>& steps);
// The record without the results of which nothing is stated, for papers that may not show them.
Record as_stated(const Record& record);

// Of the evaluation and of the run, in the order of the steps, those of the whole last.
std::vector<calib::Finding> findings_of(const Record& record);

}  // namespace tipwright::report
