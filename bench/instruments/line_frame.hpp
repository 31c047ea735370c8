// Line frame: where a line of text is in a stream of bytes. A line ends with CR, LF or both; empty lines are
// none.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>

namespace tipwright::bench {

// Longest line an instrument may send.
inline constexpr std::size_t line_limit = 256;

struct LineFrame {
    enum class Kind { need_more, line, too_long };
    Kind kind = Kind::need_more;
    std::size_t consumed = 0;  // bytes that are done with; may be above zero with need_more (empty lines)
    std::string_view text;     // without its ending; a view into the bytes
};
LineFrame next_line(std::span<const std::byte> bytes);

}  // namespace tipwright::bench
