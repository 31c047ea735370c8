// The kinds of links that make_link opens. Internal to this folder.
#pragma once

#include <memory>
#include <string>

#include "bench/links/link.hpp"

namespace tipwright::bench {

Result<std::unique_ptr<Link>> open_pty_link(boost::asio::io_context& context, const std::string& path);
Result<std::unique_ptr<Link>> open_tcp_link(boost::asio::io_context& context,
                                            const std::string& host_and_port);
// A path, or usb: and the serial number of the adapter.
Result<std::unique_ptr<Link>> open_serial_link(boost::asio::io_context& context, const std::string& port,
                                               const SerialSettings& settings);

}  // namespace tipwright::bench
