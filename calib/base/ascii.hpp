// ASCII as files and instruments write it: blanks around a text, hexadecimal digits.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace tipwright {

inline std::string_view trimmed(std::string_view text, std::string_view blanks = " \t") {
    const auto is_blank = [&](char c) {
        for (const char blank : blanks)
            if (c == blank) return true;
        return false;
    };
    while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
    return text;
}

// Looked up: a processor cannot foretell whether the next digit of a checksum is a letter.
inline constexpr auto hex_values = [] {
    std::array<std::int8_t, 256> values{};
    values.fill(-1);
    for (std::size_t k = 0; k < 10; ++k) values['0' + k] = static_cast<std::int8_t>(k);
    for (std::size_t k = 0; k < 6; ++k) values['a' + k] = values['A' + k] = static_cast<std::int8_t>(10 + k);
    return values;
}();

// 0 to 15, of capitals too; -1 where it is no hexadecimal digit.
constexpr int hex_value(char c) {
    return hex_values[static_cast<unsigned char>(c)];
}

// The last so many digits of the value, in small letters.
inline void append_hex(std::string& out, std::uint32_t value, int digits) {
    for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4)
        out += "0123456789abcdef"[(value >> shift) & 15];
}

}  // namespace tipwright
