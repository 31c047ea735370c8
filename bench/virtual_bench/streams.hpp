// Numbers of the random streams, one for each part of the virtual bench.
#pragma once

#include <cstdint>

namespace tipwright::bench::stream {

inline constexpr std::uint64_t systematic_errors = 1;
inline constexpr std::uint64_t tips = 2;
inline constexpr std::uint64_t contacts = 3;
inline constexpr std::uint64_t drain = 4;
inline constexpr std::uint64_t balance = 5;
inline constexpr std::uint64_t climate = 6;
inline constexpr std::uint64_t garbage = 7;
inline constexpr std::uint64_t siphon_truth = 8;
inline constexpr std::uint64_t vessel = 9;
inline constexpr std::uint64_t faults = 10;
inline constexpr std::uint64_t link_faults = 20;  // and the next three, one for each role

}  // namespace tipwright::bench::stream
