// A person's own bytes to an instrument that no profile here can stop: who may send them, and what is said
// after.
#pragma once

#include <optional>
#include <string>

#include "bench/instruments/unguarded_right.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

inline constexpr const char* sent_unguarded =
    "Nothing here knows how to stop what was sent to (no profile of a pump, no --stop): if it is a pump and "
    "it turns, pull its plug.";

inline constexpr const char* stop_went_out =
    "The bytes of --stop went out as far as the link took them: look whether it stands, else pull its "
    "plug.\n";

// `stop`: bytes that stop it. Fault: usage, where nothing says that it can be stopped or need not be.
inline Result<bench::UnguardedRight> right_to_send(bool said_no_pump, const std::string& stop) {
    if (!stop.empty()) return bench::UnguardedRight::to_what_is_stopped();
    if (said_no_pump) return bench::UnguardedRight::to_no_pump();
    return Fault{
        FaultCode::usage, "nothing here would know how to stop what is sent to, if it is a pump", "--send",
        "give --no-pump if it is not a pump; else a pump's --profile, or by --stop the bytes that stop it"};
}

}  // namespace tipwright::program
