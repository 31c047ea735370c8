#include <algorithm>
#include <iterator>
#include <string_view>

#include "bench/links/open_links.hpp"

namespace tipwright::bench {
namespace {

bool is_any(std::string_view) {
    return true;
}

// A link's description is its kind and, after blanks, one word that the kind understands.
struct LinkKind {
    std::string_view name;
    bool (*understands)(std::string_view target);
    Result<std::unique_ptr<Link>> (*open)(boost::asio::io_context& context, const std::string& target,
                                          const SerialSettings& settings);
};

constexpr LinkKind kinds[] = {
    {"serial", is_any, open_serial_link},
    {"tcp", is_host_and_port, open_tcp_link},
    {"pty", is_any, open_pty_link},
};

struct Described {
    const LinkKind* kind = nullptr;
    std::string target;
};

Result<Described> understand(std::string_view description) {
    const std::size_t blank = std::min(description.find(' '), description.size());
    const std::size_t begin = std::min(description.find_first_not_of(' ', blank), description.size());
    const std::string_view target = description.substr(begin);
    const auto* kind = std::find_if(std::begin(kinds), std::end(kinds), [&](const LinkKind& one) {
        return one.name == description.substr(0, blank);
    });
    if (kind != std::end(kinds) && !target.empty() &&
        target.find_first_of(" \t\n") == std::string_view::npos && kind->understands(target))
        return Described{kind, std::string(target)};
    return Fault{FaultCode::bad_value, "invalid link " + in_quotes(description), "link",
                 "write \"serial /dev/ttyUSB0\", \"serial usb:SERIALNUMBER\", \"tcp HOST:PORT\" or \"pty "
                 "/dev/pts/3\""};
}

}  // namespace

Outcome check_link(std::string_view description) {
    const Result<Described> link = understand(description);
    if (!link) return link.fault();
    return Done{};
}

Result<std::unique_ptr<Link>> make_link(boost::asio::io_context& context, const std::string& description,
                                        const SerialSettings& settings) {
    const Result<Described> link = understand(description);
    if (!link) return link.fault();
    return link->kind->open(context, link->target, settings);
}

}  // namespace tipwright::bench
