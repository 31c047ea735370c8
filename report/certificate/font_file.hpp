// Which characters a TrueType font has: its cmap table, formats 4 and 12 (OpenType specification, "cmap").
// A certificate must not print a box where a letter of somebody's name belongs.
#pragma once

#include <filesystem>
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

// True for scripts whose letters join or run from right to left: drawn letter by letter they come out wrong.
bool needs_shaping(char32_t code_point);

}  // namespace tipwright::report::certificate
