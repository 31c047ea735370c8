// Decimal: a number as an instrument shows it, with its digits behind the point kept.
// At most 15 significant digits, so that the value is the double nearest to what was shown.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace tipwright::bench {

struct Decimal {
    double value = 0;
    std::int64_t digits = 0;  // the number without its decimal sign: value = digits / 10^decimals
    int decimals = 0;         // digits behind the decimal sign
    std::size_t length = 0;   // characters taken
};

// A number at the front of the text: sign, blanks after the sign, digits, decimal sign, digits. The sign and
// the part behind the decimal sign may be missing. False when there is no such number, which is left as it
// was.
bool scan_decimal(std::string_view text, char decimal_sign, Decimal& number);
inline std::optional<Decimal> scan_decimal(std::string_view text, char decimal_sign = '.') {
    Decimal number;
    return scan_decimal(text, decimal_sign, number) ? std::optional(number) : std::nullopt;
}

// digits / 10^decimals, correctly rounded; decimals from -9 to 15.
double scaled(std::int64_t digits, int decimals);

// The value with a fixed number of decimals (0 to 9), ASCII, never "-0".
std::string decimal_text(double value, int decimals);

}  // namespace tipwright::bench
