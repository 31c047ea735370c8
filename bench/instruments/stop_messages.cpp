#include "bench/instruments/stop_messages.hpp"

namespace tipwright::bench {

std::vector<std::string> stop_messages(const InstrumentProfile& profile) {
    const PumpFamily* const pump = profile.role == Role::pump ? profile.family->as_pump() : nullptr;
    return pump != nullptr ? pump->stop_messages() : std::vector<std::string>();
}

}  // namespace tipwright::bench
