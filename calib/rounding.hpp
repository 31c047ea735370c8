// The one rounding rule. Expanded uncertainty to two significant figures, rounded up when rounding
// down would cut it by more than 5 % (ILAC-P14:09/2020); the value to the same decimal place.
#pragma once

#include <string>

namespace tipwright::calib {

struct RoundedPair {
    std::string value;
    std::string uncertainty;
    int decimals = 0;  // negative: tens, hundreds
};

RoundedPair round_with_uncertainty(double value, double expanded_uncertainty);
// A value to the decimals its uncertainty earns, two significant figures of U.
int decimals_earned(double expanded_uncertainty);
// Fixed decimals, half away from zero, never "-0.00".
std::string fixed(double value, int decimals);

}  // namespace tipwright::calib
