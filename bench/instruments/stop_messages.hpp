// Stop messages: the bytes that stop a pump, to be written on its link one after the other by whoever cannot
// wait for answers: the watchdog, the handler of crashes, and the pump's own device on a link that came back.
#pragma once

#include <string>
#include <vector>

namespace tipwright::bench {

struct InstrumentProfile;

struct StopMessages {
    std::vector<std::string> messages;
    // Between the beginnings of two messages, and after the last before anything else: long enough that the
    // next is not taken for a part of this one, nor runs into the answer to it.
    double pause_s = 0;
};

// Empty for a profile that is no pump's.
StopMessages stop_messages(const InstrumentProfile& profile);

}  // namespace tipwright::bench
