// What the laboratory states of its work, as sentences of a language: procedure, water, capability and where
// U was raised to it, the rule agreed with the customer, who issued an instrument's certificate. Each is
// empty where nothing is stated. Page, DCC, tables and terminal take them from here. No errors.
#pragma once

#include <span>
#include <string>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

// Part of word_keys().
std::span<const WordKey> facts_keys();

std::string procedure_words(const Words& words, const Record& record);
std::string water_words(const Words& words, const Record& record);
// The table of the CMC, and its rule between the intensities.
std::string capability_words(const Words& words, const Record& record);
// At which steps U was raised to it.
std::string raised_words(const Words& words, const Record& record);
std::string agreed_words(const Words& words, const Record& record);
std::string issuer_words(const Words& words, const InstrumentUsed& used);

}  // namespace tipwright::report::certificate
