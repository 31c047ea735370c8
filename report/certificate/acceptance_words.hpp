// What spoke against an instrument and was accepted, as a sentence in the language of the words.
#pragma once

#include <string>

#include "report/certificate/words.hpp"
#include "report/record.hpp"

namespace tipwright::report::certificate {

std::string acceptance_words(const Words& words, const Acceptance& acceptance);

}  // namespace tipwright::report::certificate
