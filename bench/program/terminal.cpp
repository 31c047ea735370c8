#include "bench/program/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdarg>
#include <nlohmann/json.hpp>

#include "calib/base/text.hpp"

namespace tipwright::program {

namespace {

// A hidden character as JSON's escape, by UTF-16 beyond the first plane.
std::string json_escape(char32_t point) {
    char text[16];
    if (point < 0x10000) {
        std::snprintf(text, sizeof text, "\\u%04x", static_cast<unsigned>(point));
    } else {
        const unsigned rest = static_cast<unsigned>(point) - 0x10000;
        std::snprintf(text, sizeof text, "\\u%04x\\u%04x", 0xD800u + (rest >> 10), 0xDC00u + (rest & 0x3FFu));
    }
    return text;
}

}  // namespace

namespace printing {

void put(std::FILE* out, const char* format, ...) {
    std::va_list arguments;
    va_start(arguments, format);
    std::vfprintf(out, format, arguments);
    va_end(arguments);
}

}  // namespace printing

void print_lines(std::FILE* out, std::string_view lines) {
    while (lines.ends_with('\n')) lines.remove_suffix(1);
    std::string text;
    for (std::size_t at = 0; at <= lines.size();) {
        const std::size_t end = std::min(lines.find('\n', at), lines.size());
        text += visible(lines.substr(at, end - at)) + "\n";
        at = end + 1;
    }
    std::fwrite(text.data(), 1, text.size(), out);
}

void print_json_text(std::string_view text) {
    while (text.ends_with('\n')) text.remove_suffix(1);
    std::string out;
    out.reserve(text.size() + 1);
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t start = at;
        const char32_t point = next_code_point(text, at);
        const std::string_view character = text.substr(start, at - start);
        // Line feeds lay the document out; inside texts the serializer has escaped them.
        out += character == "\n" || visible(character) == character ? std::string(character)
                                                                    : json_escape(point);
    }
    out += "\n";
    std::fwrite(out.data(), 1, out.size(), stdout);
}

void print_json(const nlohmann::ordered_json& document) {
    print_json_text(document.dump(2, ' ', false, nlohmann::json::error_handler_t::replace));
}

std::size_t line_width(int descriptor) {
    constexpr std::size_t usual_columns = 100;
    winsize size{};
    const bool known = ::ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 1;
    // One less: some terminals wrap as soon as the last column is written.
    return (known ? size.ws_col : usual_columns) - 1;
}

std::string first_characters(const std::string& text, std::size_t count) {
    std::size_t at = 0;
    for (std::size_t seen = 0; at < text.size(); ++at) {
        const bool begins = (static_cast<unsigned char>(text[at]) & 0xC0u) != 0x80u;
        if (begins && ++seen > count) break;
    }
    return text.substr(0, at);
}

}  // namespace tipwright::program
