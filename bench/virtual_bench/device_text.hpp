// How instruments write numbers: fixed decimals, no locale, no minus before a zero.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

namespace tipwright::bench {

std::string fixed_text(double value, int decimals);
std::string hex4(std::uint16_t value);
// Pads on the left to the width.
void append_right(std::string& text, const std::string& field, std::size_t width);

// Display steps of a balance to text: 0.02 g steps need two decimals.
class DisplayScale {
public:
    explicit DisplayScale(double resolution);
    std::string text(std::int64_t steps) const;
    int decimals() const { return decimals_; }

private:
    int decimals_ = 0;
    std::int64_t units_per_step_ = 1;  // in units of the last decimal
};

}  // namespace tipwright::bench
