// Text filled up with blanks to a width, for tables on a terminal: by characters as people count them, not
// bytes. Wider text stays as it is.
#pragma once

#include <string>

#include "calib/base/text.hpp"

namespace tipwright {

enum class Align { left, right };

inline std::string padded(const std::string& text, std::size_t width, Align align = Align::left) {
    const std::size_t count = code_point_count(text);
    const std::string blanks(count < width ? width - count : 0, ' ');
    return align == Align::right ? blanks + text : text + blanks;
}

}  // namespace tipwright
