#include "report/certificate/font_file.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "report/files/files.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr std::size_t max_font_bytes = 64u << 20;

// Big-endian numbers; beyond the end everything is 0, so that a cut file gives an empty set.
class Bytes {
public:
    explicit Bytes(std::string_view bytes) : bytes_(bytes) {}
    std::uint32_t u16(std::size_t at) const { return byte(at) << 8 | byte(at + 1); }
    std::uint32_t u32(std::size_t at) const { return u16(at) << 16 | u16(at + 2); }
    std::size_t size() const { return bytes_.size(); }

private:
    std::string_view bytes_;
    std::uint32_t byte(std::size_t at) const {
        return at < bytes_.size() ? static_cast<unsigned char>(bytes_[at]) : 0;
    }
};

using Ranges = std::vector<std::pair<char32_t, char32_t>>;

void add(Ranges& ranges, char32_t point) {
    if (!ranges.empty() && ranges.back().second + 1 == point)
        ranges.back().second = point;
    else
        ranges.emplace_back(point, point);
}

// visit(character, glyph) for each there is, ascending.
template <class Visit>
void each_in_format_4(const Bytes& file, std::size_t at, Visit visit) {
    const std::uint32_t segments = file.u16(at + 6) / 2;
    const std::size_t ends = at + 14;
    const std::size_t starts = ends + 2 * segments + 2;
    const std::size_t deltas = starts + 2 * segments;
    const std::size_t offsets = deltas + 2 * segments;
    for (std::uint32_t i = 0; i < segments; ++i) {
        const std::uint32_t end = file.u16(ends + 2 * i);
        const std::uint32_t start = file.u16(starts + 2 * i);
        const std::uint32_t delta = file.u16(deltas + 2 * i);
        const std::uint32_t offset = file.u16(offsets + 2 * i);
        for (std::uint32_t point = start; point <= end && point < 0xFFFF; ++point) {
            std::uint32_t glyph = (point + delta) & 0xFFFF;
            if (offset != 0) {
                glyph = file.u16(offsets + 2 * i + offset + 2 * (point - start));
                if (glyph != 0) glyph = (glyph + delta) & 0xFFFF;
            }
            if (glyph != 0) visit(point, glyph);
        }
    }
}

Ranges read_format_4(const Bytes& file, std::size_t at) {
    Ranges ranges;
    each_in_format_4(file, at, [&](std::uint32_t point, std::uint32_t) { add(ranges, point); });
    return ranges;
}

Ranges read_format_12(const Bytes& file, std::size_t at) {
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

// Where in the font's directory its cmap is described; 0: nowhere.
std::size_t cmap_entry(const Bytes& file) {
    const std::uint32_t tables = file.u16(4);
    for (std::uint32_t i = 0; i < tables; ++i) {
        const std::size_t entry = 12 + 16 * std::size_t{i};
        if (file.u32(entry) == 0x636D6170) return entry;  // "cmap"
    }
    return 0;
}

// Of the characters of the first 65536; 0: the font has none.
std::size_t format_4_table(const Bytes& file, std::size_t cmap) {
    constexpr std::uint32_t windows = 3;
    for (std::uint32_t e = 0; e < file.u16(cmap + 2); ++e) {
        const std::size_t record = cmap + 4 + 8 * std::size_t{e};
        const std::size_t table = cmap + file.u32(record + 4);
        if (file.u16(record) == windows && file.u16(record + 2) == 1 && file.u16(table) == 4) return table;
    }
    return 0;
}

constexpr std::array<std::pair<char32_t, char32_t>, 3> usual_letters{
    {{0x20, 0x7E}, {0xA0, 0x52F}, {0x1E00, 0x27BF}}};

void append_u16(std::string& out, std::size_t value) {
    out += static_cast<char>(value >> 8 & 0xFF);
    out += static_cast<char>(value & 0xFF);
}
void append_u32(std::string& out, std::size_t value) {
    append_u16(out, value >> 16);
    append_u16(out, value);
}

// A cmap of one table of format 4, whose segments are the blocks of the usual letters and the last one that
// the format asks for; glyph 0 stands for what the font has not.
std::string cmap_of(const std::vector<std::uint16_t>& glyph_of) {
    constexpr std::size_t segments = usual_letters.size() + 1;
    constexpr std::size_t last = 0xFFFF;
    std::string ends, starts, deltas, offsets, glyphs;
    for (std::size_t i = 0; i < usual_letters.size(); ++i) {
        const auto [first, end] = usual_letters[i];
        append_u16(ends, end);
        append_u16(starts, first);
        append_u16(deltas, 0);
        append_u16(offsets, 2 * (segments - i) + glyphs.size());
        for (char32_t point = first; point <= end; ++point) append_u16(glyphs, glyph_of[point]);
    }
    append_u16(ends, last);
    append_u16(starts, last);
    append_u16(deltas, 1);  // the last segment leads to glyph 0
    append_u16(offsets, 0);
    constexpr std::size_t search = 4;  // the greatest power of two of segments
    static_assert(segments == search);
    std::string body;
    for (const std::size_t number :
         {std::size_t{0}, 2 * segments, 2 * search, std::size_t{2}, std::size_t{0}})
        append_u16(body, number);
    body += ends + std::string(2, '\0') + starts + deltas + offsets + glyphs;
    std::string cmap;
    for (const std::size_t number : {0, 1, 3, 1}) append_u16(cmap, number);  // one table: Windows, Unicode
    append_u32(cmap, 12);
    append_u16(cmap, 4);
    append_u16(cmap, 4 + body.size());
    return cmap + body;
}

}  // namespace

bool FontCharacters::has(char32_t point) const {
    const auto after = std::upper_bound(ranges_.begin(), ranges_.end(), point,
                                        [](char32_t p, const auto& range) { return p < range.first; });
    return after != ranges_.begin() && point <= (after - 1)->second;
}

Result<FontCharacters> FontCharacters::from_bytes(std::string_view bytes, const std::string& name) {
    const Bytes file(bytes);
    FontCharacters font;
    if (const std::size_t entry = cmap_entry(file); entry != 0) {
        const std::size_t cmap = file.u32(entry + 8);
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

std::string with_usual_letters(std::string_view font) {
    const Bytes file(font);
    const std::size_t entry = cmap_entry(file);
    if (entry + 16 > font.size()) return {};
    const std::size_t table = entry != 0 ? format_4_table(file, file.u32(entry + 8)) : 0;
    if (table == 0) return {};
    std::vector<std::uint16_t> glyph_of(0x10000);
    each_in_format_4(file, table, [&](std::uint32_t point, std::uint32_t glyph) {
        glyph_of[point] = static_cast<std::uint16_t>(glyph);
    });
    const std::string cmap = cmap_of(glyph_of);
    std::string place;
    append_u32(place, (font.size() + 3) / 4 * 4);
    append_u32(place, cmap.size());
    std::string out;
    out.reserve(font.size() + 3 + cmap.size());
    out.append(font).replace(entry + 8, place.size(), place);
    out.resize((font.size() + 3) / 4 * 4, '\0');
    return out += cmap;
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
