// XML text, element by element, indented by two blanks. Text is UTF-8; characters that XML 1.0 does not allow
// (section 2.2) become U+FFFD.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "report/files/xml_text.hpp"

namespace tipwright::report::dcc {

using Attributes = std::initializer_list<std::pair<std::string_view, std::string_view>>;

class XmlWriter {
public:
    XmlWriter();

    // Attributes with an empty value are left out.
    void open(std::string_view name, Attributes attributes = {});
    void close();
    void text(std::string_view name, std::string_view content, Attributes attributes = {});
    const std::string& xml() const { return xml_; }

private:
    std::string xml_;
    std::vector<std::string> open_;
    void begin(std::string_view name, Attributes attributes);
};

using report::xml_escaped;

}  // namespace tipwright::report::dcc
