// Terminal: how much of a line fits. A line that wrapped could not be drawn anew in place.
#pragma once

#include <cstddef>
#include <cstdio>
#include <string>

namespace tipwright::program {

// Characters that fit into a line of the terminal the stream leads to; 99 where its width is not known.
std::size_t line_width(std::FILE* out);

// The first characters of UTF-8 text, none cut through.
std::string first_characters(const std::string& text, std::size_t count);

}  // namespace tipwright::program
