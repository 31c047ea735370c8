// Keys of the words of the annex: conditions, instruments, method, budgets, models and history. Internal to
// report/certificate/.
#pragma once

#include <span>

#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

std::span<const WordKey> annex_keys();

}  // namespace tipwright::report::certificate
