// Message ending: what ends a message to an instrument of that profile; empty where a message is ended by
// other means (frames, bytes that nobody asks).
#pragma once

#include <string>

#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

std::string message_ending(const InstrumentProfile& profile);

}  // namespace tipwright::bench
