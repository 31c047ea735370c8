// Html: text of a page, put together so that nothing from outside can become markup: only literals of the
// source and other Html go in as they are, everything else is escaped.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace tipwright::page {

class Html {
public:
    // A literal in the source: markup.
    struct Literal {
        const char* text;
        consteval Literal(const char* literal) : text(literal) {}
    };

    Html() = default;
    Html& raw(Literal literal);
    // For elements and for attribute values in double quotes.
    Html& text(std::string_view from_outside);
    Html& number(std::int64_t value);
    Html& add(const Html& other);
    // ` name="value"`.
    Html& attribute(Literal name, std::string_view value);

    const std::string& str() const { return out_; }
    bool empty() const { return out_.empty(); }

    // For pictures of report/certificate/svg.hpp and files of templates/page, which were escaped when made.
    static Html made_elsewhere(std::string markup);

private:
    std::string out_;
};

// A part of a path in a URL: all but letters, digits and -._~ as %XX, a slash too unless `slashes`.
std::string url_text(std::string_view text, bool slashes = false);

}  // namespace tipwright::page
