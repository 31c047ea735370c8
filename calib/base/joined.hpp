// Parts of a sentence, one after the other.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace tipwright {

// Nothing where the part is empty; nothing before the first.
inline void add_part(std::string& sentence, std::string_view part, std::string_view between = "; ") {
    if (part.empty()) return;
    if (!sentence.empty()) sentence += between;
    sentence += part;
}

inline std::string joined(std::span<const std::string> parts, std::string_view between = "; ") {
    std::string out;
    for (const std::string& part : parts) add_part(out, part, between);
    return out;
}

// "a", "a or b", "a, b or c".
inline std::string alternatives(std::span<const std::string> parts) {
    std::string out;
    for (std::size_t i = 0; i < parts.size(); ++i)
        add_part(out, parts[i], i + 1 == parts.size() ? " or " : ", ");
    return out;
}

}  // namespace tipwright
