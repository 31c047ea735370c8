// What the serial shim shares with those who move the modem lines: a mapped file of this shape.
#pragma once

#include <atomic>
#include <cstdint>

namespace tipwright::test {

struct ShimLines {
    std::atomic<std::uint32_t> inputs;   // TIOCM_CTS, TIOCM_DSR, TIOCM_CD, TIOCM_RNG
    std::atomic<std::uint32_t> outputs;  // TIOCM_DTR, TIOCM_RTS, as the program set them
    std::atomic<std::uint32_t> cts;      // changes so far
    std::atomic<std::uint32_t> dsr;
    std::atomic<std::uint32_t> dcd;
    std::atomic<std::uint32_t> rng;
    std::atomic<std::uint32_t> waiters;       // TIOCMIWAIT calls that wait now
    std::atomic<std::uint32_t> no_edge_wait;  // 1: a driver without TIOCMIWAIT and TIOCGICOUNT
    std::atomic<std::uint32_t> unplugged;     // 1: every modem request fails with EIO
    std::atomic<std::uint32_t> frame;         // c_cflag as the program asked for it; 0: not yet
    // Settings from the one of that number on are refused, it with EINVAL, later ones with EIO; 0: none is.
    std::atomic<std::uint32_t> refused_from;
    std::atomic<std::uint32_t> settings;  // asked for so far
};
static_assert(sizeof(ShimLines) == 48);

}  // namespace tipwright::test
