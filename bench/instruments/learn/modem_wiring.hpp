// Modem wiring: which modem input of a serial port each contact hangs on, and whether it is on while the
// contact is closed, from somebody who closes one after the other. Faults: no_answer (no input moved),
// inconsistent (more than one did), interrupted, link_lost.
#pragma once

#include "bench/clock/clock.hpp"
#include "bench/instruments/learn/session.hpp"
#include "bench/links/modem_lines.hpp"

namespace tipwright::bench {

Task<Result<LearnedProfile>> learn_modem_wiring(ModemLines& lines, Clock& clock,
                                                boost::asio::io_context& context, LearnPerson& person);

}  // namespace tipwright::bench
