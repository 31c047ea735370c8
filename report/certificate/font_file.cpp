#include "report/certificate/font_file.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "report/certificate/font_bytes.hpp"
#include "report/files/files.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr std::size_t max_font_bytes = 64u << 20;

using Ranges = std::vector<std::pair<char32_t, char32_t>>;

void add(Ranges& ranges, char32_t point) {
    if (!ranges.empty() && ranges.back().second + 1 == point)
        ranges.back().second = point;
    else
        ranges.emplace_back(point, point);
}

Ranges read_format_4(const FontBytes& file, std::size_t at) {
    Ranges ranges;
    for (std::uint32_t i = 0; i < CmapSegment::count(file, at); ++i) {
        const CmapSegment segment(file, at, i);
        for (std::uint32_t point = segment.start; point <= segment.end && point < 0xFFFF; ++point)
            if (segment.glyph(point) != 0) add(ranges, point);
    }
    return ranges;
}

Ranges read_format_12(const FontBytes& file, std::size_t at) {
    Ranges ranges;
    const std::uint32_t groups = file.u32(at + 12);
    for (std::uint32_t i = 0; i < groups && at + 16 + 12 * std::size_t{i} < file.size(); ++i) {
        const std::size_t group = at + 16 + 12 * std::size_t{i};
        const std::uint32_t start = file.u32(group);
        const std::uint32_t end = file.u32(group + 4);
        if (start <= end && end <= 0x10FFFF) ranges.emplace_back(start, end);
    }
    return ranges;
}

}  // namespace

bool FontCharacters::has(char32_t point) const {
    const auto after = std::upper_bound(ranges_.begin(), ranges_.end(), point,
                                        [](char32_t p, const auto& range) { return p < range.first; });
    return after != ranges_.begin() && point <= (after - 1)->second;
}

Result<FontCharacters> FontCharacters::from_bytes(std::string_view bytes, const std::string& name) {
    const FontBytes file(bytes);
    FontCharacters font;
    if (const std::size_t cmap = file.table("cmap").at; cmap != 0) {
        const std::uint32_t encodings = file.u16(cmap + 2);
        for (std::uint32_t e = 0; e < encodings; ++e) {
            const std::size_t record = cmap + 4 + 8 * std::size_t{e};
            const std::uint32_t platform = file.u16(record);
            if (platform != 0 && platform != 3) continue;  // Unicode, Windows
            const std::size_t table = cmap + file.u32(record + 4);
            Ranges ranges;
            if (file.u16(table) == 4) ranges = read_format_4(file, table);
            if (file.u16(table) == 12) ranges = read_format_12(file, table);
            if (ranges.size() > font.ranges_.size()) font.ranges_ = std::move(ranges);
        }
    }
    std::sort(font.ranges_.begin(), font.ranges_.end());
    if (font.empty())
        return Fault{FaultCode::damaged, "no table of characters in the font", name,
                     "give a TrueType font, for example DejaVuSans.ttf of the package fonts-dejavu-core"};
    return font;
}

Result<std::string> read_font(const std::filesystem::path& path) {
    return read_file(path, max_font_bytes,
                     "install the package fonts-dejavu-core or name another TrueType font");
}

Result<FontCharacters> read_font_characters(const std::filesystem::path& path) {
    const auto bytes = read_font(path);
    if (!bytes) return bytes.fault();
    return FontCharacters::from_bytes(*bytes, path.string());
}

bool needs_shaping(char32_t point) {
    constexpr std::array<std::pair<char32_t, char32_t>, 6> blocks{{
        {0x0590, 0x08FF},  // Hebrew, Arabic, Syriac, Thaana, N'Ko and their extensions
        {0x0900, 0x109F},  // scripts of India, Sri Lanka, Thailand, Lao, Tibet, Myanmar
        {0x1780, 0x17FF},  // Khmer
        {0x1800, 0x18AF},  // Mongolian
        {0xFB1D, 0xFDFF},  // Hebrew and Arabic presentation forms
        {0xFE70, 0xFEFE},  // Arabic presentation forms
    }};
    return std::any_of(blocks.begin(), blocks.end(),
                       [&](const auto& block) { return point >= block.first && point <= block.second; });
}

}  // namespace tipwright::report::certificate
