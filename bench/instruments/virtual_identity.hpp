// Instruments of the virtual bench say so when they are asked who they are, and the run writes the answer
// down: a bench that `serve` plays is no real one, whatever its description says of itself.
#pragma once

#include <algorithm>
#include <span>
#include <string>
#include <string_view>

namespace tipwright::bench {

// What follows is the role; SCPI puts a maker of the same name before it.
inline constexpr std::string_view virtual_identity = "virtual-";
inline constexpr std::string_view virtual_maker = "virtual,";
inline constexpr std::string_view says_it_is = " says it is ";

// `remarks`: those of a run.
inline bool said_to_be_virtual(std::span<const std::string> remarks) {
    return std::any_of(remarks.begin(), remarks.end(), [](const std::string& one) {
        const std::string said = std::string(says_it_is) + "\"";
        const std::size_t at = one.find(said);
        if (at == std::string::npos) return false;
        const std::string_view who = std::string_view(one).substr(at + said.size());
        return who.starts_with(virtual_identity) || who.starts_with(virtual_maker);
    });
}

}  // namespace tipwright::bench
