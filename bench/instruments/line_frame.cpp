#include "bench/instruments/line_frame.hpp"

#include <algorithm>

namespace tipwright::bench {

namespace {

bool is_line_end(std::byte byte) {
    return byte == std::byte{'\r'} || byte == std::byte{'\n'};
}

}  // namespace

LineFrame next_line(std::span<const std::byte> bytes) {
    LineFrame frame;
    std::size_t begin = 0;
    while (begin < bytes.size() && is_line_end(bytes[begin])) ++begin;
    frame.consumed = begin;
    const std::size_t limit = std::min(bytes.size(), begin + line_limit + 1);
    std::size_t end = begin;
    while (end < limit && !is_line_end(bytes[end])) ++end;
    if (end == limit) {
        if (end - begin > line_limit) {
            frame.kind = LineFrame::Kind::too_long;
            frame.consumed = end;
        }
        return frame;
    }
    frame.kind = LineFrame::Kind::line;
    frame.consumed = end + 1;
    frame.text = {reinterpret_cast<const char*>(bytes.data()) + begin, end - begin};
    return frame;
}

}  // namespace tipwright::bench
