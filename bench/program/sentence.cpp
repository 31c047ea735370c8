#include "bench/program/sentence.hpp"

#include <unistd.h>

#include <algorithm>

#include "bench/program/terminal.hpp"
#include "calib/base/text.hpp"

namespace tipwright::program {

std::vector<std::string> wrapped(const std::string& text, std::size_t width) {
    std::vector<std::string> out(1);
    std::size_t at = 0;
    while (at < text.size()) {
        const std::size_t end = std::min(text.find(' ', at), text.size());
        const std::string word = text.substr(at, end - at);
        if (!out.back().empty() && code_point_count(out.back()) + 1 + code_point_count(word) > width)
            out.emplace_back();
        out.back() += (out.back().empty() ? "" : " ") + word;
        at = end + 1;
    }
    return out;
}

void print_sentence(std::FILE* out, const std::string& text) {
    // Before it is folded: what is shown of a hidden character is wider, and a line feed is one of them.
    const std::string shown = visible(text);
    const int descriptor = ::fileno(out);
    if (descriptor < 0 || ::isatty(descriptor) == 0) {
        print_to(out, "%s\n", Drawn{shown});
        return;
    }
    for (const std::string& line : wrapped(shown, line_width(descriptor))) print_to(out, "%s\n", Drawn{line});
}

}  // namespace tipwright::program
