// Tip counter, protocol: the lines of a counter device, bytes to events. Pure.
//   E <sequence> <device_us> <contact> <0|1> *<CRC>    a contact opened (0) or closed (1)
//   H <sequence> <device_us> *<CRC>                    heartbeat, at least every 2 s
//   I <sequence> <device_us> <text> *<CRC>             who it is, asked by "ID?" and CR
// Lines end with CR LF (LF alone is taken too). sequence: one more for each line, modulo 2^32. device_us:
// the device's own clock in microseconds, 64 bits. contact: 1 or 2. text: up to 20 printable
// characters. CRC: CRC-16/MODBUS of everything before " *", four hexadecimal digits. After damage the parser
// looks for the next line that is whole.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace tipwright::bench {

// Longest line, ending included.
inline constexpr std::size_t counter_line_limit = 64;
inline constexpr std::size_t counter_identity_limit = 20;
inline constexpr std::string_view counter_question = "ID?\r";

struct CounterLine {
    bool heartbeat = false;
    std::uint32_t sequence = 0;
    std::uint64_t device_us = 0;
    int contact = 0;            // of an edge
    bool closed = false;        // of an edge
    std::string_view identity;  // of a line that says who it is: within the bytes that were parsed

    bool is_edge() const { return !heartbeat && identity.empty(); }
};

struct CounterParse {
    enum class Kind { need_more, line, dropped };
    Kind kind = Kind::need_more;
    std::size_t consumed = 0;
    CounterLine line;
};

// The next thing at the front of the bytes: a line, or bytes that belong to none.
CounterParse parse_counter(std::span<const std::byte> bytes);

// Its two steps. Frame: is this text, without its ending, whole? Its body without the checksum, or nothing.
std::optional<std::string_view> check_counter_frame(std::string_view text);
std::optional<CounterLine> read_counter_fields(std::string_view body);

}  // namespace tipwright::bench
