// The bytes of a TrueType font and the finding of one glyph in them (OpenType specification). Numbers are
// big-endian; beyond the end everything is 0, so that a cut file is no danger.
#pragma once

#include <cstdint>
#include <string_view>

namespace tipwright::report::certificate {

class FontBytes {
public:
    struct Table {
        std::size_t at = 0;  // 0: the font has none
        std::size_t size = 0;
    };

    explicit FontBytes(std::string_view bytes) : bytes_(bytes) {}
    std::uint32_t u16(std::size_t at) const { return byte(at) << 8 | byte(at + 1); }
    std::uint32_t u32(std::size_t at) const { return u16(at) << 16 | u16(at + 2); }
    std::size_t size() const { return bytes_.size(); }
    // Cut where the font ends.
    std::string_view part(std::size_t at, std::size_t length) const {
        return at < bytes_.size() ? bytes_.substr(at, length) : std::string_view();
    }

    Table table(std::string_view tag) const {
        for (std::uint32_t i = 0; i < u16(4); ++i)
            if (const std::size_t entry = 12 + 16 * std::size_t{i}; part(entry, 4) == tag)
                return {u32(entry + 8), u32(entry + 12)};
        return {};
    }

private:
    std::string_view bytes_;
    std::uint32_t byte(std::size_t at) const {
        return at < bytes_.size() ? static_cast<unsigned char>(bytes_[at]) : 0;
    }
};

// A segment of a table "cmap" of format 4: characters one after the other.
class CmapSegment {
public:
    CmapSegment(const FontBytes& font, std::size_t table, std::uint32_t index) : font_(font) {
        const std::size_t all = font.u16(table + 6);  // of the segments' ends, 2 bytes each
        const std::size_t ends = table + 14 + 2 * std::size_t{index};
        end = font.u16(ends);
        start = font.u16(ends + all + 2);
        delta_ = font.u16(ends + 2 * all + 2);
        offset_at_ = ends + 3 * all + 2;
        offset_ = font.u16(offset_at_);
    }
    static std::uint32_t count(const FontBytes& font, std::size_t table) { return font.u16(table + 6) / 2; }

    std::uint32_t start = 0;  // both included
    std::uint32_t end = 0;
    // Of one of its characters; 0: none.
    std::uint32_t glyph(std::uint32_t point) const {
        if (offset_ == 0) return (point + delta_) & 0xFFFF;
        const std::uint32_t found = font_.u16(offset_at_ + offset_ + 2 * std::size_t{point - start});
        return found == 0 ? 0 : (found + delta_) & 0xFFFF;
    }

private:
    const FontBytes& font_;
    std::uint32_t delta_ = 0;
    std::size_t offset_at_ = 0;
    std::uint32_t offset_ = 0;
};

}  // namespace tipwright::report::certificate
