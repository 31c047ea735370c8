// The correction a logger applies, in words and numbers of a language: the same for the certificate,
// correction.csv, formula.txt and the DCC.
#pragma once

#include <string>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

bool has_correction(const Record& record);

// Six figures, each number with its unit: whoever computes with it meets the table to its last figure. Lines
// are parted by \n. Empty: no form fits (the table alone stands), or there is no correction.
std::string correction_formula(const Record& record, const Words& words);
// As above, but never empty where there is a correction: "h(T) from the table below".
std::string correction_or_table(const Record& record, const Words& words);
// As above without its letters' marks, its lines parted by "; ".
std::string correction_in_one_line(const Record& record, const Words& words);
// What h(T) is, and what it replaces.
std::string correction_intro(const Record& record, const Words& words);
// "T is the mean interval over whole portions"; empty for another inlet.
std::string siphon_sentence(const Record& record, const Words& words);
// In digits that its uncertainty earns.
std::string correction_example(const Record& record, const Words& words);
std::string correction_range(const Record& record, const Words& words);
// Why there is none.
std::string no_correction_sentence(const Record& record, const Words& words);

}  // namespace tipwright::report::certificate
