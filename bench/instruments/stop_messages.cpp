#include "bench/instruments/stop_messages.hpp"

#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

StopMessages stop_messages(const InstrumentProfile& profile) {
    const PumpFamily* const pump = profile.role == Role::pump ? profile.family->as_pump() : nullptr;
    return pump != nullptr ? pump->stop_messages() : StopMessages();
}

}  // namespace tipwright::bench
