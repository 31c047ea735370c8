// Link: bytes out, bytes in. Nothing here knows what the bytes mean.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <utility>

#include "bench/clock/clock.hpp"
#include "calib/fault.hpp"

namespace tipwright::bench {

class Link {
public:
    virtual ~Link() = default;
    // For people and logs: "lockstep pump", "/dev/ttyUSB0", "tcp 127.0.0.1:4001".
    virtual std::string name() const = 0;
    // At least one byte, or a Fault link_lost.
    virtual Task<Result<std::size_t>> read_some(std::span<std::byte> into) = 0;
    // All bytes, or a Fault link_lost.
    virtual Task<Outcome> write(std::span<const std::byte> bytes) = 0;
    // Pending and later reads and writes end with link_lost. Never throws.
    virtual void close() = 0;
};

// Two ends of an in-memory pipe: what one writes the other reads, in order, without loss.
std::pair<std::unique_ptr<Link>, std::unique_ptr<Link>> make_lockstep_pair(boost::asio::io_context& context,
                                                                           std::string name);

}  // namespace tipwright::bench
