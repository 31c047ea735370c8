// The one rounding rule. Expanded uncertainty to two significant figures, rounded up when rounding
// down would cut it by more than 5 % (ILAC-P14:09/2020); the value to the same decimal place.
// With two figures rounding down cuts at most 4.8 %, so that clause speaks only for one figure.
#pragma once

#include <string>

namespace tipwright::calib {

struct RoundedPair {
    std::string value;
    std::string uncertainty;
    int decimals = 0;  // negative: tens, hundreds
};

// Decimals given to a value whose uncertainty is zero, infinite or not a number.
inline constexpr int decimals_without_uncertainty = 6;

RoundedPair round_with_uncertainty(double value, double expanded_uncertainty, int figures = 2);
// A value to the decimals its uncertainty earns, two significant figures of U.
int decimals_earned(double expanded_uncertainty, int figures = 2);
// Fixed decimals, half away from zero in the shortest decimal form of the number, never "-0.00".
std::string fixed(double value, int decimals);

}  // namespace tipwright::calib
