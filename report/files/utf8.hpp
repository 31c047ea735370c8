// UTF-8 as it comes from outside: code points one by one, bad bytes as U+FFFD.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace tipwright::report {

inline constexpr char32_t replacement_character = 0xFFFD;

// The code point at `at`, which moves past it. Overlong forms, surrogates and cut sequences give U+FFFD and
// move by one byte. Needs at < text.size().
char32_t next_code_point(std::string_view text, std::size_t& at);
void append_utf8(std::string& out, char32_t code_point);
// The text with every bad byte replaced by U+FFFD.
std::string valid_utf8(std::string_view text);
std::size_t code_point_count(std::string_view text);

}  // namespace tipwright::report
