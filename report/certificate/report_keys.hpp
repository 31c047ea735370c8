// Keys of the words of documents that are no certificate: comparison, checks of a gauge in the field and of a
// bench, rain, trial, laboratory. Internal to report/certificate/.
#pragma once

#include <span>

#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

std::span<const WordKey> report_keys();

}  // namespace tipwright::report::certificate
