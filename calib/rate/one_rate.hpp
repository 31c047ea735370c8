// Which flows count as one rate: those within a twentieth, as a pump that is set twice alike delivers them
// (common practice, no source).
#pragma once

namespace tipwright::calib {

inline constexpr double one_rate_factor = 1.05;

// higher >= lower > 0, any unit.
constexpr bool is_one_rate(double lower, double higher) {
    return higher <= lower * one_rate_factor;
}

}  // namespace tipwright::calib
