#include "bench/program/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

namespace tipwright::program {

std::size_t line_width(std::FILE* out) {
    constexpr std::size_t usual_columns = 100;
    winsize size{};
    const bool known = ::ioctl(::fileno(out), TIOCGWINSZ, &size) == 0 && size.ws_col > 1;
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
