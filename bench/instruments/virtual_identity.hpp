// Instruments of the virtual bench say so when they are asked who they are, and the run writes the answer
// down: a bench that `serve` plays is no real one, whatever its description says of itself.
#pragma once

#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "bench/instruments/identity_words.hpp"

namespace tipwright::bench {

// What follows is the role; SCPI puts a maker of the same name before it.
inline constexpr std::string_view virtual_identity = "virtual-";
inline constexpr std::string_view virtual_maker = "virtual,";
inline constexpr std::string_view says_it_is = " says it is ";

// The remark of a run on what an instrument said, and back: the instrument, and its answer in quotes.
inline std::string identity_remark(const std::string& instrument, const std::string& answer) {
    return "The " + instrument + std::string(says_it_is) + whole_in_quotes(answer) + ".";
}
inline std::optional<std::pair<std::string, std::string>> identity_in(const std::string& remark) {
    const std::size_t at = remark.find(std::string(says_it_is) + '"');
    if (at == std::string::npos || !remark.starts_with("The ") || !remark.ends_with("\".")) return {};
    const std::size_t from = at + says_it_is.size();
    return std::pair(remark.substr(4, at - 4), remark.substr(from, remark.size() - from - 1));
}

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
