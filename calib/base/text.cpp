#include "calib/base/text.hpp"

#include <utf8.h>

#include <algorithm>
#include <iterator>

namespace tipwright {

std::string where(std::string_view file, TextPosition at) {
    return std::string(file) + ":" + std::to_string(at.line) + ":" + std::to_string(at.column);
}

std::size_t code_point_length(std::string_view text, std::size_t at) {
    const char* lead = text.data() + at;
    if (static_cast<unsigned char>(*lead) < 0x80) return 1;
    const std::size_t most = std::min<std::size_t>(4, text.size() - at);
    for (std::size_t length = 2; length <= most; ++length)
        if (utf8::is_valid(lead, lead + length)) return length;
    return 0;
}

char32_t next_code_point(std::string_view text, std::size_t& at) {
    if (const auto ascii = static_cast<unsigned char>(text[at]); ascii < 0x80) {
        ++at;
        return ascii;
    }
    const std::size_t length = code_point_length(text, at);
    if (length == 0) {
        ++at;
        return replacement_character;
    }
    const auto* lead = text.data() + at;
    at += length;
    return static_cast<char32_t>(utf8::unchecked::next(lead));
}

void append_utf8(std::string& out, char32_t code_point) {
    if (code_point < 0x80) {
        out += static_cast<char>(code_point);
        return;
    }
    utf8::unchecked::append(static_cast<std::uint32_t>(code_point), std::back_inserter(out));
}

std::string valid_utf8(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) append_utf8(out, next_code_point(text, at));
    return out;
}

std::size_t code_point_count(std::string_view text) {
    std::size_t count = 0;
    for (std::size_t at = 0; at < text.size(); ++count) next_code_point(text, at);
    return count;
}

std::string first_bytes(std::string_view text, std::size_t most) {
    if (text.size() <= most) return std::string(text);
    while (most > 0 && (static_cast<unsigned char>(text[most]) & 0xC0U) == 0x80) --most;
    return std::string(text.substr(0, most));
}

std::string small_letters(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return out;
}

}  // namespace tipwright
