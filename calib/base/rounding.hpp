// The one rounding rule. Expanded uncertainty to two significant figures, rounded up when rounding
// down would cut it by more than 5 % (ILAC-P14:09/2020); the value to the same decimal place.
// With two figures rounding down cuts at most 4.8 %, so that clause speaks only for one figure.
#pragma once

#include <span>
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
// Of a column of a table, one number of decimals for all: as few as the largest U earns by two figures, so
// that none has more (ILAC-P14:09/2020), but enough that the smallest keeps one. Without any U that can be
// rounded: decimals_without_uncertainty.
int decimals_of_column(std::span<const double> expanded_uncertainties);
// A value and its U to so many decimals; U up where rounding down would cut it by more than 5 %.
RoundedPair round_to_decimals(double value, double expanded_uncertainty, int decimals);
// Fixed decimals, half away from zero in the shortest decimal form of the number, never "-0.00".
std::string fixed(double value, int decimals);

}  // namespace tipwright::calib
