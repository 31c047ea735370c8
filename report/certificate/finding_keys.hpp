// Keys of the words of findings and reservations. Internal to report/certificate/.
#pragma once

#include <span>

#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

std::span<const WordKey> finding_keys();

}  // namespace tipwright::report::certificate
