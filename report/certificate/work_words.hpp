// What a workshop did to the gauge, in the certificate's language: for paper and DCC.
#pragma once

#include <string>
#include <vector>

#include "report/certificate/certificate.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

// "3 March 2031: insects in the funnel; cleaned; stop screws turned by: A 0.25, B −0.25 turns"
std::vector<std::string> work_words(const Words& words, const std::vector<ServiceWork>& work);

}  // namespace tipwright::report::certificate
