#include <string_view>

#include "bench/links/open_links.hpp"

namespace tipwright::bench {

Result<std::unique_ptr<Link>> make_link(boost::asio::io_context& context, const std::string& description,
                                        const SerialSettings& settings) {
    const std::size_t blank = description.find(' ');
    const std::string kind = description.substr(0, blank);
    const std::size_t begin =
        blank == std::string::npos ? std::string::npos : description.find_first_not_of(' ', blank);
    const std::string target = begin == std::string::npos ? "" : description.substr(begin);
    if (!target.empty() && target.find_first_of(" \t\n") == std::string::npos) {
        if (kind == "serial") return open_serial_link(context, target, settings);
        if (kind == "tcp") return open_tcp_link(context, target);
        if (kind == "pty") return open_pty_link(context, target);
    }
    return Fault{FaultCode::bad_value, in_quotes(description) + " is no link", "link",
                 "write \"serial /dev/ttyUSB0\", \"serial usb:SERIALNUMBER\", \"tcp HOST:PORT\" or \"pty "
                 "/dev/pts/3\""};
}

}  // namespace tipwright::bench
