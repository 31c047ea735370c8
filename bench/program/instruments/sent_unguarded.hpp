// What is said after bytes of somebody's own went to an instrument that nothing here can stop.
#pragma once

namespace tipwright::program {

inline constexpr const char* sent_unguarded =
    "Nothing here knows how to stop what was sent to (no profile of a pump, no --stop): if it is a pump and "
    "it turns, pull its plug.";

}  // namespace tipwright::program
