// Stop messages: the bytes that stop a pump of that profile, to be written on its link one after the other by
// whoever cannot wait for answers (the watchdog). Empty for a profile that is no pump's.
#pragma once

#include <string>
#include <vector>

#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

std::vector<std::string> stop_messages(const InstrumentProfile& profile);

}  // namespace tipwright::bench
