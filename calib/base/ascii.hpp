// ASCII as files and instruments write it: blanks around a text, hexadecimal digits.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace tipwright {

inline std::string_view trimmed(std::string_view text, std::string_view blanks = " \t") {
    const std::size_t first = text.find_first_not_of(blanks);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

// 0 to 15, of capitals too; -1 where it is no hexadecimal digit.
constexpr int hex_value(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

// The last so many digits of the value, in small letters.
inline void append_hex(std::string& out, std::uint32_t value, int digits) {
    for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4)
        out += "0123456789abcdef"[(value >> shift) & 15];
}

}  // namespace tipwright
