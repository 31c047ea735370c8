// Texts of words on the terminal: folded between words where it is narrower than the text.
#pragma once

#include <cstdio>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::program {

// Words of a text in lines of a width; one that is longer stands alone.
std::vector<std::string> wrapped(const std::string& text, std::size_t width);
// A line, made visible; several where `out` leads to a terminal that is narrower.
void print_sentence(std::FILE* out, const std::string& text);

}  // namespace tipwright::program
