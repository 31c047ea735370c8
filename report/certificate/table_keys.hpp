// Keys of the words of tables for other programs (report/tables) and of the formula as text (report/pack).
// Internal to report/certificate/.
#pragma once

#include <span>

#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

std::span<const WordKey> table_keys();

}  // namespace tipwright::report::certificate
