// The kinds of links there are, each with how a person writes it, what its target names and how it is opened.
// Messages, help and locks follow from this list.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bench/links/link.hpp"

namespace tipwright::bench {

// A lock holds all names of a target alike: of a device where its path leads, of a host its address.
enum class LinkTarget { device, host_and_port };

struct LinkKind {
    std::string_view name;  // "tcp"
    // What a person writes behind it; the second may be empty.
    std::string_view forms[2];
    LinkTarget target;
    Result<std::unique_ptr<Link>> (*open)(boost::asio::io_context& context, const std::string& target,
                                          const SerialSettings& settings);
};

std::span<const LinkKind> link_kinds();

// The kind whose name a description begins with, up to its first blank; null: there is none.
const LinkKind* link_kind_of(std::string_view description);

// How links are written, each in quotes: "serial /dev/ttyUSB0".
std::vector<std::string> link_forms();

}  // namespace tipwright::bench
