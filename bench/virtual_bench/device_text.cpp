#include "bench/virtual_bench/device_text.hpp"

#include <array>
#include <charconv>
#include <cmath>

namespace tipwright::bench {

std::string fixed_text(double value, int decimals) {
    std::array<char, 64> buffer{};
    const auto written = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value,
                                       std::chars_format::fixed, decimals);
    std::string text(buffer.data(), written.ptr);
    if (text.starts_with('-') && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
    return text;
}

std::string hex4(std::uint16_t value) {
    constexpr std::array<char, 17> digits = {"0123456789ABCDEF"};
    std::string text;
    for (int shift = 12; shift >= 0; shift -= 4)
        text += digits[static_cast<std::size_t>(value >> shift & 15)];
    return text;
}

void append_right(std::string& text, const std::string& field, std::size_t width) {
    if (field.size() < width) text.append(width - field.size(), ' ');
    text += field;
}

DisplayScale::DisplayScale(double resolution) {
    constexpr int most_decimals = 6;
    double unit = 1;
    while (decimals_ < most_decimals && std::abs(resolution / unit - std::round(resolution / unit)) > 1e-6) {
        unit /= 10;
        ++decimals_;
    }
    units_per_step_ = static_cast<std::int64_t>(std::round(resolution / unit));
}

std::string DisplayScale::text(std::int64_t steps) const {
    const std::int64_t units = steps * units_per_step_;
    std::string digits = std::to_string(units < 0 ? -units : units);
    const auto places = static_cast<std::size_t>(decimals_);
    if (places > 0) {
        if (digits.size() <= places) digits.insert(0, places + 1 - digits.size(), '0');
        digits.insert(digits.size() - places, 1, '.');
    }
    return units < 0 ? "-" + digits : digits;
}

}  // namespace tipwright::bench
