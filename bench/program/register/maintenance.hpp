// Keeping the register, asking it, and handing out packs.
#pragma once

#include "bench/program/register/session.hpp"

namespace tipwright::program {

// What was found whole, and how far it is sealed: whole sentences.
std::string inspection_sentences(const report::InspectionReport& report);

}  // namespace tipwright::program
