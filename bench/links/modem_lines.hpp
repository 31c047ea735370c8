// Modem lines: the four inputs of a serial port that a contact can be wired to, and the two outputs that can
// feed it. Blocking calls, safe from a thread of their own. After ioctl_tty(2): TIOCMGET, TIOCMIWAIT,
// TIOCGICOUNT. Faults: link_lost.
#pragma once

#include <array>
#include <cstdint>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

enum class ModemInput { cts, dsr, dcd, ri };
inline constexpr std::size_t modem_inputs = 4;
using ModemStates = std::array<bool, modem_inputs>;           // by ModemInput: on or off
using ModemCounts = std::array<std::uint32_t, modem_inputs>;  // changes so far

class ModemLines {
public:
    virtual ~ModemLines() = default;
    virtual Result<ModemStates> states() = 0;
    virtual Outcome set_outputs(bool dtr, bool rts) = 0;
    // False when the port's driver cannot wait for a change and count them.
    virtual bool can_wait() = 0;
    // True at the next change of one of those inputs; false when a signal ended the waiting.
    virtual Result<bool> wait_for_change(const ModemStates& of) = 0;
    virtual Result<ModemCounts> counts() = 0;
};

}  // namespace tipwright::bench
