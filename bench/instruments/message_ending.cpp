#include "bench/instruments/message_ending.hpp"

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/scpi/profile.hpp"

namespace tipwright::bench {

std::string message_ending(const InstrumentProfile& profile) {
    if (const auto line = profile.of<LineAsciiProfile>()) return line->send_ending;
    if (const auto scpi = profile.of<ScpiProfile>()) return scpi->send_ending;
    return "";
}

}  // namespace tipwright::bench
