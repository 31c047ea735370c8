// A person's own bytes to an instrument that no profile here can stop: who may send them, and what is said
// after.
#pragma once

#include <optional>
#include <string>

#include "bench/instruments/unguarded_right.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

inline constexpr const char* sent_unguarded =
    "The program does not know how to stop the instrument it sent to (no profile of a pump, no --stop): if "
    "it is a pump and it turns, pull its plug.";

inline constexpr const char* stop_went_out =
    "The bytes of --stop were sent as far as the link took them: check that the pump has stopped; if it "
    "turns, pull its plug.\n";

// `stop`: bytes that stop it. Fault: usage, where nothing says that it can be stopped or need not be.
inline Result<bench::UnguardedRight> right_to_send(bool said_no_pump, const std::string& stop) {
    if (!stop.empty()) return bench::UnguardedRight::to_what_is_stopped();
    if (said_no_pump) return bench::UnguardedRight::to_no_pump();
    return Fault{FaultCode::usage, "if this is a pump, the program would not know how to stop it", "--send",
                 "give --no-pump if it is not a pump; if it is one, its --profile, or --stop with the bytes "
                 "that stop it"};
}

}  // namespace tipwright::program
