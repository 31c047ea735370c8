// A TrueType font of a few of another's letters: their outlines, widths and hints are the same, all else is
// left out. libharu embeds whole tables of glyphs that are never drawn, and seeks each of 65536 characters
// along the segments of a cmap: of the whole of DejaVu Sans that is half the time of a certificate and 80 %
// of the font in it.
#pragma once

#include <set>
#include <string>
#include <string_view>

namespace tipwright::report::certificate {

// Empty when the font cannot be taken apart: no TrueType outlines, no cmap of format 4, a table cut short.
// Letters that the font has not are not in it either.
std::string font_of_letters(std::string_view font, const std::set<char32_t>& letters);

// What no certificate does without: ASCII, Latin-1, the signs that the program itself writes.
std::set<char32_t> common_letters();
// Adds those of a text beyond ASCII.
void add_letters(std::set<char32_t>& letters, std::string_view text);

}  // namespace tipwright::report::certificate
