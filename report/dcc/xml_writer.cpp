#include "report/dcc/xml_writer.hpp"

#include "report/files/xml_text.hpp"

namespace tipwright::report::dcc {

XmlWriter::XmlWriter() : xml_("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n") {}

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
