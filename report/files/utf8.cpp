#include "report/files/utf8.hpp"

namespace tipwright::report {

namespace {

bool is_continuation(unsigned char byte) {
    return (byte & 0xC0) == 0x80;
}

}  // namespace

// Well-formed sequences: The Unicode Standard, section 3.9, table 3-7.
char32_t next_code_point(std::string_view text, std::size_t& at) {
    const auto byte = [&](std::size_t offset) { return static_cast<unsigned char>(text[at + offset]); };
    const unsigned char first = byte(0);
    const std::size_t left = text.size() - at;
    std::size_t length = 0;
    char32_t point = 0;
    char32_t least = 0;
    if (first < 0x80) {
        ++at;
        return first;
    }
    if (first >= 0xC2 && first <= 0xDF) {
        length = 2;
        point = first & 0x1Fu;
        least = 0x80;
    } else if (first >= 0xE0 && first <= 0xEF) {
        length = 3;
        point = first & 0x0Fu;
        least = 0x800;
    } else if (first >= 0xF0 && first <= 0xF4) {
        length = 4;
        point = first & 0x07u;
        least = 0x10000;
    }
    bool good = length != 0 && left >= length;
    for (std::size_t i = 1; good && i < length; ++i) {
        good = is_continuation(byte(i));
        if (good) point = (point << 6) | (byte(i) & 0x3Fu);
    }
    good = good && point >= least && point <= 0x10FFFF && !(point >= 0xD800 && point <= 0xDFFF);
    if (!good) {
        ++at;
        return replacement_character;
    }
    at += length;
    return point;
}

void append_utf8(std::string& out, char32_t point) {
    const auto put = [&](char32_t bits) { out.push_back(static_cast<char>(bits)); };
    if (point < 0x80) {
        put(point);
    } else if (point < 0x800) {
        put(0xC0 | (point >> 6));
        put(0x80 | (point & 0x3F));
    } else if (point < 0x10000) {
        put(0xE0 | (point >> 12));
        put(0x80 | ((point >> 6) & 0x3F));
        put(0x80 | (point & 0x3F));
    } else {
        put(0xF0 | (point >> 18));
        put(0x80 | ((point >> 12) & 0x3F));
        put(0x80 | ((point >> 6) & 0x3F));
        put(0x80 | (point & 0x3F));
    }
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

}  // namespace tipwright::report
