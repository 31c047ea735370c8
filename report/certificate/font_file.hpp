// What is asked of a TrueType font's file: which characters it has, and a smaller font of a few of its
// letters. HarfBuzz reads and writes the tables. A certificate must not print a box where a letter of
// somebody's name belongs.
#pragma once

#include <filesystem>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::report::certificate {

class FontCharacters {
public:
    bool has(char32_t code_point) const;
    bool empty() const { return ranges_.empty(); }

    // `bytes`: the whole file. Fault damaged: no usable cmap.
    static Result<FontCharacters> from_bytes(std::string_view bytes, const std::string& name);

private:
    std::vector<std::pair<char32_t, char32_t>> ranges_;  // ascending, both ends included
};

// The bytes of a font. Faults: file_missing, file_unreadable, file_too_large.
Result<std::string> read_font(const std::filesystem::path& file);
// Faults: those and damaged.
Result<FontCharacters> read_font_characters(const std::filesystem::path& file);

// A font of those of `letters` that the font has, with their outlines, widths and hints; all else is left
// out: libharu embeds whole tables of glyphs that are never drawn, and seeks each of 65536 characters along
// the segments of a cmap. Empty when the font has none of them or its file is cut short.
std::string font_of_letters(std::string_view font, const std::set<char32_t>& letters);

// What no certificate does without: ASCII, Latin-1, the signs that the program itself writes.
std::set<char32_t> common_letters();
// Adds those of a text beyond ASCII.
void add_letters(std::set<char32_t>& letters, std::string_view text);

// True for scripts whose letters join or run from right to left: drawn letter by letter they come out wrong.
bool needs_shaping(char32_t code_point);

}  // namespace tipwright::report::certificate
