// Link: bytes out, bytes in. Nothing here knows what the bytes mean.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "bench/clock/clock.hpp"
#include "bench/links/send_right.hpp"
#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

class ModemLines;

// Of a link that another program uses too.
inline constexpr std::string_view link_taken_remedy =
    "end that program, then go on; never delete the files tipwright-*.lock";

class Link {
public:
    virtual ~Link() = default;
    // For people and logs: "lockstep pump", "/dev/ttyUSB0", "tcp 127.0.0.1:4001".
    virtual std::string name() const = 0;
    // At least one byte, or a Fault link_lost.
    virtual Task<Result<std::size_t>> read_some(std::span<std::byte> into) = 0;
    // All bytes, or a Fault: link_lost; not_permitted, told once, where they all went, yet another program
    // holds the link's lock by now.
    virtual Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) = 0;
    // Pending and later reads and writes end with link_lost. Never throws.
    virtual void close() = 0;
    // Of the operating system; -1 where there is none. Changes when the link is opened again.
    virtual int descriptor() const { return -1; }
    // After link_lost: tries once to open it again, within a few seconds.
    virtual bool can_reopen() const { return false; }
    virtual Task<Outcome> reopen();
    // Contacts may be wired to them. Null where there are none; lives no longer than the link is open.
    virtual ModemLines* modem_lines() { return nullptr; }
};

// Opens a link as a bench description names it, for example "tcp 127.0.0.1:4001": its kind and, after
// blanks, one word that the kind understands. Which kinds there are stands in bench/links/link_kinds.cpp, how
// a person writes them in templates/README.md.
//
// The settings apply to serial ports.
// Faults: bad_value for an invalid description, file_missing, link_lost.
Result<std::unique_ptr<Link>> make_link(boost::asio::io_context& context, const std::string& description,
                                        const SerialSettings& settings = {});

// Whether make_link understands the description; opens nothing. Fault: bad_value.
Outcome check_link(std::string_view description);

// Two ends of an in-memory pipe: what one writes the other reads, in order, without loss.
std::pair<std::unique_ptr<Link>, std::unique_ptr<Link>> make_lockstep_pair(boost::asio::io_context& context,
                                                                           std::string name);

}  // namespace tipwright::bench
