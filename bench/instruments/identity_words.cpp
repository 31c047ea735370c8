#include "bench/instruments/identity_words.hpp"

#include <algorithm>

#include "calib/base/fault.hpp"
#include "calib/base/text.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t shown_whole = 60;   // characters; in_quotes shows no more
constexpr std::size_t shown_before = 20;  // of what both have in common

std::string without_quotes(const std::string& quoted) {
    return quoted.size() >= 2 ? quoted.substr(1, quoted.size() - 2) : quoted;
}

// What is shown of one of two that differ from the byte `at` on.
std::string part_of(const std::string& text, std::size_t from) {
    return in_quotes((from > 0 ? "..." : "") + text.substr(from));
}

// Of texts without hidden characters.
std::string words_of(const std::string& said, const std::string& known) {
    if (code_point_count(said) <= shown_whole && code_point_count(known) <= shown_whole)
        return in_quotes(said) + " instead of " + in_quotes(known);
    const auto differ = std::mismatch(said.begin(), said.end(), known.begin(), known.end());
    std::size_t at = static_cast<std::size_t>(differ.first - said.begin());
    const auto inside = [&said](std::size_t byte) {
        return byte > 0 && byte < said.size() && (static_cast<unsigned char>(said[byte]) & 0xC0) == 0x80;
    };
    while (inside(at)) --at;
    std::size_t from = at > shown_before ? at - shown_before : 0;
    while (inside(from)) --from;
    return part_of(said, from) + " instead of " + part_of(known, from) + ", from character " +
           std::to_string(code_point_count(said.substr(0, at)) + 1) + " on";
}

}  // namespace

std::string whole_in_quotes(const std::string& answer) {
    return "\"" + visible(answer) + "\"";
}

bool is_identity_in_quotes(const std::string& answer, const std::string& quoted) {
    if (quoted == whole_in_quotes(answer)) return true;
    return quoted.ends_with("...\"") && quoted == in_quotes(answer);
}

std::string instead_of(const std::string& said, const std::string& known) {
    return words_of(visible(said), visible(known));
}

std::string instead_of_quoted(const std::string& said, const std::string& quoted) {
    return words_of(visible(said), without_quotes(quoted));
}

}  // namespace tipwright::bench
