#include "report/files/toml_depth.hpp"

#include <vector>

namespace tipwright::report {

namespace {

class Lexer {
public:
    explicit Lexer(std::string_view text) : text_(text) {}

    // To the first place that is too deep; false when there is none.
    bool find() {
        while (at_ < text_.size()) {
            const char c = text_[at_];
            if (c == '"' || c == '\'') {
                skip_string(c);
                continue;
            }
            if (c == '#') {
                skip_to_line_end();
                continue;
            }
            if (c == '.') ++dots_;
            if (c == '[' || c == '{') {
                around_.push_back(dots_ + 1);
                depth_ += around_.back();
                dots_ = 0;
            }
            if ((c == ']' || c == '}') && !around_.empty()) {
                depth_ -= around_.back();
                around_.pop_back();
                dots_ = 0;
            }
            if (c == ',' || (c == '\n' && around_.empty())) dots_ = 0;
            if (depth_ + dots_ > toml_depth_max) return true;
            step();
        }
        return false;
    }

    std::string place() const { return std::to_string(line_) + ":" + std::to_string(column_); }

private:
    void step() {
        if (at_ >= text_.size()) return;
        if (text_[at_] == '\n') {
            ++line_;
            column_ = 0;
        }
        if ((static_cast<unsigned char>(text_[at_]) & 0xC0u) != 0x80u || text_[at_] == '\n') ++column_;
        ++at_;
    }

    void skip(std::size_t count) {
        for (std::size_t i = 0; i < count; ++i) step();
    }

    void skip_to_line_end() {
        while (at_ < text_.size() && text_[at_] != '\n') step();
    }

    bool stands(char quote, std::size_t count) const {
        for (std::size_t i = 0; i < count; ++i)
            if (at_ + i >= text_.size() || text_[at_ + i] != quote) return false;
        return true;
    }

    // In quotes a backslash hides what follows it; in apostrophes it does not.
    void skip_string(char quote) {
        const bool escapes = quote == '"';
        const bool many_lines = stands(quote, 3);
        skip(many_lines ? 3 : 1);
        while (at_ < text_.size()) {
            if (escapes && text_[at_] == '\\') {
                skip(2);
            } else if (many_lines && stands(quote, 3)) {
                skip(3);
                // One or two quotes more belong to the text, before the three that end it.
                for (int i = 0; i < 2 && stands(quote, 1); ++i) step();
                return;
            } else if (!many_lines && (text_[at_] == quote || text_[at_] == '\n')) {
                if (text_[at_] == quote) step();
                return;
            } else {
                step();
            }
        }
    }

    std::string_view text_;
    std::size_t at_ = 0;
    int line_ = 1;
    int column_ = 1;
    std::vector<int> around_;
    int depth_ = 0;
    int dots_ = 0;
};

}  // namespace

Outcome check_toml_depth(std::string_view text, const std::string& name) {
    Lexer lexer(text);
    if (!lexer.find()) return Done{};
    return Fault{
        FaultCode::syntax,
        "keys, lists and tables inside each other are more than " + std::to_string(toml_depth_max) + " deep",
        name + ":" + lexer.place(), "put texts in quotes"};
}

}  // namespace tipwright::report
