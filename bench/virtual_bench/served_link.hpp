// Served links: the device's end of a line that other processes may open, close and open again. With nobody
// at the other end, what is written goes nowhere, as from an instrument whose cable hangs in the air; that
// is no fault. Only close() ends such a link. A reader who does not keep up loses what does not fit.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "bench/clock/clock.hpp"
#include "bench/links/link.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct ServedLink {
    std::unique_ptr<Link> device_end;
    std::string address;  // what the other end opens: "pty /dev/pts/3", "tcp 127.0.0.1:4001"
};

// A new pseudo-terminal in raw mode. Fault: file_unwritable when the system has none left.
Result<ServedLink> make_served_pty(boost::asio::io_context& context, Clock& clock);
// A port of the loopback interface, 0 for any free one; one visitor at a time. Fault: file_unwritable when
// the port is taken.
Result<ServedLink> make_served_tcp(boost::asio::io_context& context, std::uint16_t port);

}  // namespace tipwright::bench
