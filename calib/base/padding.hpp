// Text filled up with blanks to a width, for tables on a terminal: by characters as people count them, not
// bytes. Wider text stays as it is.
#pragma once

#include <string>

#include "calib/base/text.hpp"

namespace tipwright {

inline std::string blanks_beside(const std::string& text, std::size_t width) {
    const std::size_t count = code_point_count(text);
    return std::string(count < width ? width - count : 0, ' ');
}

inline std::string flush_left(const std::string& text, std::size_t width) {
    return text + blanks_beside(text, width);
}

inline std::string flush_right(const std::string& text, std::size_t width) {
    return blanks_beside(text, width) + text;
}

}  // namespace tipwright
