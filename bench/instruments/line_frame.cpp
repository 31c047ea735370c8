#include "bench/instruments/line_frame.hpp"

#include <algorithm>

namespace tipwright::bench {

LineFrame next_line(std::span<const std::byte> bytes) {
    const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    LineFrame frame;
    while (frame.consumed < text.size() && (text[frame.consumed] == '\r' || text[frame.consumed] == '\n'))
        ++frame.consumed;
    const std::string_view window = text.substr(frame.consumed, line_limit + 1);
    const std::string_view line = window.substr(0, window.find('\n'));
    const std::size_t length = std::min(line.find('\r'), line.size());
    if (length == window.size()) {
        if (length > line_limit) {
            frame.kind = LineFrame::Kind::too_long;
            frame.consumed += length;
        }
        return frame;
    }
    frame.kind = LineFrame::Kind::line;
    frame.consumed += length + 1;
    frame.text = window.substr(0, length);
    return frame;
}

}  // namespace tipwright::bench
