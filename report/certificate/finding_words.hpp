// Sentences of findings and reservations, from the words of a language.
#pragma once

#include <string>
#include <vector>

#include "calib/decision/statement.hpp"
#include "calib/tips/finding.hpp"
#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

// "Step 3, run 2: 4 of 66 tips with no or too little water behind them, by weighing". A finding that lacks a
// number of its sentence (a record edited by hand) says its name instead.
std::string finding_words(const Words& words, const calib::Finding& finding);
// All of them, what several steps have alike in one sentence that names them.
std::vector<std::string> findings_words(const Words& words, const std::vector<calib::Finding>& findings);
// "Steps 1, 2 and 4: ..."; no steps: the text alone.
std::string steps_words(const Words& words, const std::vector<int>& steps, const std::string& text);
// With what to do, for whoever stands at the bench.
std::string finding_advice(const Words& words, const calib::Finding& finding);

// One sentence for each reservation, steps of one kind together. finished, planned: numbers of steps.
std::vector<std::string> reservation_sentences(const Words& words,
                                               const std::vector<calib::Reservation>& reservations,
                                               std::size_t finished, std::size_t planned);
// One sentence for each reservation, steps of one kind together, then what is not stated at all, then who
// accepted it, or that nobody has. Empty: nothing is reserved.
std::vector<std::string> reservation_sentences(const Words& words, const Record& record);

// Which quantities are not traceable, for page 1; empty when all are.
std::string traceability_sentence(const Words& words, const Record& record);
// What the result needs, each of it traceable when a calibration of what measured it is named.
std::string traceability_words(const Words& words, const Record& record);

}  // namespace tipwright::report::certificate
