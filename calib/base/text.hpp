// Text from outside: places in it, and UTF-8 code point by code point (by utf8cpp), bad bytes as U+FFFD.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace tipwright {

struct TextPosition {
    unsigned line = 1;
    unsigned column = 1;  // in characters, not bytes
};

// "file:line:column".
std::string where(std::string_view file, TextPosition at);

inline constexpr char32_t replacement_character = 0xFFFD;

// Bytes of the code point at `at`; 0 where none begins (overlong, surrogate, cut short). Needs at <
// text.size().
std::size_t code_point_length(std::string_view text, std::size_t at);
// The code point at `at`, which moves past it; where none begins, U+FFFD, and `at` moves by one byte.
char32_t next_code_point(std::string_view text, std::size_t& at);
void append_utf8(std::string& out, char32_t code_point);
// The text with every bad byte replaced by U+FFFD.
std::string valid_utf8(std::string_view text);
std::size_t code_point_count(std::string_view text);
// Its first bytes, at most so many, no code point cut through.
std::string first_bytes(std::string_view text, std::size_t most);
// Capitals of ASCII as small letters; all else as it is.
std::string small_letters(std::string_view text);

}  // namespace tipwright
