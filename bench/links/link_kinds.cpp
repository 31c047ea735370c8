#include "bench/links/link_kinds.hpp"

#include <algorithm>
#include <iterator>

#include "bench/links/open_links.hpp"

namespace tipwright::bench {
namespace {

constexpr LinkKind kinds[] = {
    {"serial", {"/dev/ttyUSB0", "usb:SERIALNUMBER"}, LinkTarget::device, open_serial_link},
    {"tcp", {"HOST:PORT", ""}, LinkTarget::host_and_port, open_tcp_link},
    {"pty", {"/dev/pts/3", ""}, LinkTarget::device, open_pty_link},
};

}  // namespace

std::span<const LinkKind> link_kinds() {
    return kinds;
}

const LinkKind* link_kind_of(std::string_view description) {
    const std::string_view name = description.substr(0, description.find(' '));
    const auto found = std::find_if(std::begin(kinds), std::end(kinds),
                                    [&](const LinkKind& kind) { return kind.name == name; });
    return found == std::end(kinds) ? nullptr : found;
}

std::vector<std::string> link_forms() {
    std::vector<std::string> out;
    for (const LinkKind& kind : kinds)
        for (const std::string_view form : kind.forms)
            if (!form.empty()) out.push_back(in_quotes(std::string(kind.name) + " " + std::string(form)));
    return out;
}

}  // namespace tipwright::bench
