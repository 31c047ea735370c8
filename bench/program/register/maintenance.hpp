// What an inspection of the register says, in words.
#pragma once

#include <string>

#include "report/register/register.hpp"

namespace tipwright::program {

// What was found whole, and how far it is sealed: whole sentences.
std::string inspection_sentences(const report::InspectionReport& report);

}  // namespace tipwright::program
