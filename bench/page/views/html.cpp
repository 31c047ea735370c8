#include "bench/page/views/html.hpp"

#include "report/files/xml_text.hpp"

namespace tipwright::page {

Html& Html::raw(Literal literal) {
    out_ += literal.text;
    return *this;
}

Html& Html::text(std::string_view from_outside) {
    out_ += report::xml_escaped(from_outside, report::Apostrophe::replaced);
    return *this;
}

Html& Html::number(std::int64_t value) {
    out_ += std::to_string(value);
    return *this;
}

Html& Html::add(const Html& other) {
    out_ += other.out_;
    return *this;
}

Html& Html::attribute(Literal name, std::string_view value) {
    out_ += ' ';
    out_ += name.text;
    out_ += "=\"";
    text(value);
    out_ += '"';
    return *this;
}

Html Html::made_elsewhere(std::string markup) {
    Html html;
    html.out_ = std::move(markup);
    return html;
}

std::string url_text(std::string_view text, bool slashes) {
    constexpr char digits[] = "0123456789ABCDEF";
    std::string out;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '-' || c == '.' || c == '_' || c == '~' || (slashes && c == '/');
        if (plain) {
            out += c;
        } else {
            out += '%';
            out += digits[byte >> 4];
            out += digits[byte & 15u];
        }
    }
    return out;
}

}  // namespace tipwright::page
