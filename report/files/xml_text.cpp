#include "report/files/xml_text.hpp"

#include "calib/base/text.hpp"

namespace tipwright::report {

namespace {

bool is_plain(char c) {
    return c >= ' ' && c < '\x7F' && c != '&' && c != '<' && c != '>' && c != '"' && c != '\'';
}

}  // namespace

std::string xml_escaped(std::string_view text, Apostrophe apostrophe) {
    std::string out;
    out.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) {
        // Nearly all is plain, all of a whole PDF inside: taken over as it stands.
        const std::size_t from = at;
        while (at < text.size() && is_plain(text[at])) ++at;
        out.append(text, from, at - from);
        if (at == text.size()) break;
        char32_t point = next_code_point(text, at);
        const bool allowed = point == '\t' || point == '\n' || point == '\r' ||
                             (point >= 0x20 && point != 0xFFFE && point != 0xFFFF);
        if (!allowed) point = replacement_character;
        switch (point) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += apostrophe == Apostrophe::replaced ? "&#39;" : "'";
                break;
            case '\r':
                out += "&#13;";  // a bare one would be read back as a line feed
                break;
            default:
                append_utf8(out, point);
        }
    }
    return out;
}

}  // namespace tipwright::report
