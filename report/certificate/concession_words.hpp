// What spoke against an instrument and was accepted, as a sentence in the language of the words.
#pragma once

#include <string>

#include "report/certificate/words.hpp"
#include "report/record/record.hpp"

namespace tipwright::report::certificate {

std::string concession_words(const Words& words, const Concession& concession);

}  // namespace tipwright::report::certificate
