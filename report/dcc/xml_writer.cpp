#include "report/dcc/xml_writer.hpp"

#include "calib/base/text.hpp"

namespace tipwright::report::dcc {

XmlWriter::XmlWriter() : xml_("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n") {}

std::string xml_escaped(std::string_view text) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
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
            case '\r':
                out += "&#13;";  // a bare one would be read back as a line feed
                break;
            default:
                append_utf8(out, point);
        }
    }
    return out;
}

void XmlWriter::begin(std::string_view name, Attributes attributes) {
    xml_.append(2 * open_.size(), ' ');
    xml_ += '<';
    xml_ += name;
    for (const auto& [key, value] : attributes) {
        if (value.empty()) continue;
        xml_ += ' ';
        xml_ += key;
        xml_ += "=\"" + xml_escaped(value) + "\"";
    }
}

void XmlWriter::open(std::string_view name, Attributes attributes) {
    begin(name, attributes);
    xml_ += ">\n";
    open_.emplace_back(name);
}

void XmlWriter::close() {
    const std::string name = open_.back();
    open_.pop_back();
    xml_.append(2 * open_.size(), ' ');
    xml_ += "</" + name + ">\n";
}

void XmlWriter::text(std::string_view name, std::string_view content, Attributes attributes) {
    begin(name, attributes);
    xml_ += '>';
    xml_ += xml_escaped(content);
    xml_ += "</" + std::string(name) + ">\n";
}

}  // namespace tipwright::report::dcc
