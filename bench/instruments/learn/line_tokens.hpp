// Line tokens: a line of a balance as numbers, words and signs, so that lines of one form can be told from
// those of another. Internal to learn/.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::bench {

struct LineToken {
    enum class Kind {
        number,
        word,
        sign,
        any
    };  // any: a checksum, or another word that is new in every line
    Kind kind{};
    std::string text;
    std::size_t begin = 0;  // columns in the line
    std::size_t end = 0;
    bool blank_before = false;
    double value = 0;  // of a number
    int decimals = 0;
};

// `checksum_last`: the last word of the line is one.
std::vector<LineToken> line_tokens(std::string_view line, char decimal_sign, bool checksum_last);

// What lines of one form have in common: the kinds in their order, and the texts of words and signs.
std::string form_of(const std::vector<LineToken>& tokens);

// '.' or ',' as most numbers of these lines have it.
char decimal_sign_of(const std::vector<std::string>& lines);

// Whether the lines end in a word of hexadecimal digits that is new in most of them.
bool ends_in_checksum(const std::vector<std::string>& lines);

}  // namespace tipwright::bench
