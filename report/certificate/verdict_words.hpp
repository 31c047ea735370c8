// Verdicts in words, each with its reservation: calib/decision/statement.hpp says whether it has one.
#pragma once

#include <string>

#include "calib/decision/conformity.hpp"
#include "calib/decision/statement.hpp"
#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

// No step has both a reference and an indicated intensity: water against tips, without a rate.
bool is_static_check(const Record& record);

// A given verdict, as page 1 has it: "Meets the limits at the intensities tested, with reservation". Empty
// where none was asked for or none can be given.
std::string overall_verdict(const Words& words, calib::Verdict verdict, calib::Claim claim, bool is_static);
// The record's, of all steps.
std::string overall_verdict(const Words& words, const Record& record);
// As a sentence of its own, said of every outcome.
std::string overall_verdict_sentence(const Words& words, const Record& record);

bool is_verdict_reserved(const Record& record, int step);
// Of one step: "pass", and "pass*" where it stands with reservation.
std::string step_verdict(const Words& words, const Record& record, int step, calib::Verdict verdict);
// What the asterisk means; empty where no step has one.
std::string starred_note(const Words& words, const Record& record);

// For tables that programs read: "pass", "pass_reserved".
std::string verdict_cell(const Record& record, int step, calib::Verdict verdict);

}  // namespace tipwright::report::certificate
