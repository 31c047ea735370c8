// Text between two marks. Private to bench/program/register.
#pragma once

#include <string_view>

namespace tipwright::program {

// What follows the first `open`, up to the next `close` or the end; nothing where there is no `open`.
inline std::string_view between(std::string_view text, std::string_view open, std::string_view close) {
    const std::size_t at = text.find(open);
    if (at == std::string_view::npos) return {};
    text.remove_prefix(at + open.size());
    return text.substr(0, text.find(close));
}

}  // namespace tipwright::program
