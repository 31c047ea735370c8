// How each kind of link is opened; a new one is a file here and a line in link_kinds.cpp. Internal to this
// folder.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "bench/links/link.hpp"

namespace tipwright::bench {

// A path, or usb: and the serial number of the adapter.
Result<std::unique_ptr<Link>> open_serial_link(boost::asio::io_context& context, const std::string& port,
                                               const SerialSettings& settings);
// host:port, or [address]:port.
bool is_host_and_port(std::string_view text);
Result<std::unique_ptr<Link>> open_tcp_link(boost::asio::io_context& context,
                                            const std::string& host_and_port, const SerialSettings& unused);
Result<std::unique_ptr<Link>> open_pty_link(boost::asio::io_context& context, const std::string& path,
                                            const SerialSettings& unused);

}  // namespace tipwright::bench
