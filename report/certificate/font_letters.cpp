#include "report/certificate/font_letters.hpp"

#include <algorithm>
#include <cstdint>
#include <iterator>
#include <utility>
#include <vector>

#include "calib/base/text.hpp"
#include "report/certificate/font_bytes.hpp"

namespace tipwright::report::certificate {

namespace {

void append_u16(std::string& out, std::size_t value) {
    out += static_cast<char>(value >> 8 & 0xFF);
    out += static_cast<char>(value & 0xFF);
}
void append_u32(std::string& out, std::size_t value) {
    append_u16(out, value >> 16);
    append_u16(out, value);
}
void put_u16(std::string& out, std::size_t at, std::size_t value) {
    std::string number;
    append_u16(number, value);
    out.replace(at, number.size(), number);
}
void pad(std::string& out) {
    out.resize((out.size() + 3) / 4 * 4, '\0');
}

// Of the characters of the first 65536; 0: the font has none.
std::size_t format_4_table(const FontBytes& font) {
    constexpr std::uint32_t windows = 3;
    const std::size_t cmap = font.table("cmap").at;
    for (std::uint32_t e = 0; cmap != 0 && e < font.u16(cmap + 2); ++e) {
        const std::size_t record = cmap + 4 + 8 * std::size_t{e};
        const std::size_t table = cmap + font.u32(record + 4);
        if (font.u16(record) == windows && font.u16(record + 2) == 1 && font.u16(table) == 4) return table;
    }
    return 0;
}

struct Letter {
    char32_t point = 0;
    std::uint32_t glyph = 0;
};

// Those of `letters` that the font has, ascending.
std::vector<Letter> letters_in(const FontBytes& font, std::size_t table, const std::set<char32_t>& letters) {
    std::vector<Letter> out;
    for (std::uint32_t i = 0; i < CmapSegment::count(font, table); ++i) {
        const CmapSegment segment(font, table, i);
        for (auto at = letters.lower_bound(segment.start);
             at != letters.end() && *at <= segment.end && *at < 0xFFFF; ++at)
            if (const std::uint32_t glyph = segment.glyph(*at);
                glyph != 0 && (out.empty() || *at > out.back().point))
                out.push_back({*at, glyph});
    }
    return out;
}

// A cmap of one table of format 4. Its segments go over small gaps, since libharu looks along all of them for
// each character; the last one is what the format asks for. Glyph 0 stands for what is left out. Empty when
// the letters lie too far apart.
std::string cmap_of(const std::vector<Letter>& letters) {
    constexpr char32_t small_gap = 0x400;
    std::vector<std::pair<char32_t, char32_t>> runs;
    for (const Letter& letter : letters)
        if (!runs.empty() && letter.point - runs.back().second < small_gap)
            runs.back().second = letter.point;
        else
            runs.emplace_back(letter.point, letter.point);
    const std::size_t segments = runs.size() + 1;
    std::string ends, starts, deltas, offsets, glyphs;
    auto letter = letters.begin();
    for (std::size_t i = 0; i < runs.size(); ++i) {
        append_u16(ends, runs[i].second);
        append_u16(starts, runs[i].first);
        append_u16(deltas, 0);
        append_u16(offsets, 2 * (segments - i) + glyphs.size());
        for (char32_t point = runs[i].first; point <= runs[i].second; ++point) {
            const bool met = letter->point == point;
            append_u16(glyphs, met ? letter->glyph : 0);
            if (met) ++letter;
        }
    }
    constexpr std::size_t last = 0xFFFF;
    append_u16(ends, last);
    append_u16(starts, last);
    append_u16(deltas, 1);  // the last segment leads to glyph 0
    append_u16(offsets, 0);
    std::size_t half = 1, steps = 0;  // the greatest power of two of segments
    for (; 2 * half <= segments; half *= 2) ++steps;
    std::string body;
    for (const std::size_t number : {std::size_t{0}, 2 * segments, 2 * half, steps, 2 * (segments - half)})
        append_u16(body, number);
    body += ends + std::string(2, '\0') + starts + deltas + offsets + glyphs;
    if (body.size() + 4 > last) return {};
    std::string cmap;
    for (const std::size_t number : {0, 1, 3, 1}) append_u16(cmap, number);  // one table: Windows, Unicode
    append_u32(cmap, 12);
    append_u16(cmap, 4);
    append_u16(cmap, 4 + body.size());
    return cmap + body;
}

// The glyphs that are kept, numbered anew; one made of others takes them along.
class Glyphs {
public:
    explicit Glyphs(const FontBytes& font)
        : font_(font),
          loca_(font.table("loca")),
          glyf_(font.table("glyf")),
          hmtx_(font.table("hmtx")),
          long_places_(font.u16(font.table("head").at + 50) != 0),
          metrics_(font.u16(font.table("hhea").at + 34)),
          new_number_(font.u16(font.table("maxp").at + 4), 0) {
        if (!new_number_.empty()) kept_.push_back(0);
    }

    std::uint32_t keep(std::uint32_t glyph) {
        if (glyph == 0 || glyph >= new_number_.size()) return 0;
        if (new_number_[glyph] == 0) {
            new_number_[glyph] = static_cast<std::uint16_t>(kept_.size());
            kept_.push_back(glyph);
        }
        return new_number_[glyph];
    }

    std::size_t count() const { return kept_.size(); }
    std::string outlines, places, widths;

    // False when the font is cut short.
    bool take() {
        if (kept_.empty() || metrics_ == 0) return false;
        for (std::size_t i = 0; i < kept_.size(); ++i) {  // grows on the way
            const std::size_t from = place(kept_[i]);
            const std::size_t end = place(kept_[i] + 1);
            if (end < from || end > glyf_.size) return false;
            std::string outline(font_.part(glyf_.at + from, end - from));
            if (outline.size() != end - from || !number_parts_anew(outline)) return false;
            append_u32(places, outlines.size());
            outlines += outline;
            pad(outlines);
            if (outlines.size() > glyf_.size + 4 * kept_.size()) return false;  // outlines that overlap
            const std::size_t metric = std::min<std::size_t>(kept_[i], metrics_ - 1);
            append_u16(widths, font_.u16(hmtx_.at + 4 * metric));
            append_u16(widths, font_.u16(hmtx_.at + (kept_[i] < metrics_
                                                         ? 4 * metric + 2
                                                         : 4 * metrics_ + 2 * (kept_[i] - metrics_))));
        }
        append_u32(places, outlines.size());
        return true;
    }

private:
    const FontBytes& font_;
    FontBytes::Table loca_, glyf_, hmtx_;
    bool long_places_;
    std::size_t metrics_;
    std::vector<std::uint16_t> new_number_;  // of the font's glyphs; 0: not kept
    std::vector<std::uint32_t> kept_;

    std::size_t place(std::size_t glyph) const {
        return long_places_ ? font_.u32(loca_.at + 4 * glyph) : 2 * font_.u16(loca_.at + 2 * glyph);
    }

    // OpenType specification, "glyf", composite glyph description.
    bool number_parts_anew(std::string& outline) {
        constexpr std::uint32_t words = 1, one_scale = 8, more = 0x20, two_scales = 0x40, matrix = 0x80;
        const std::string before = outline;
        const FontBytes bytes(before);
        if (before.empty() || bytes.u16(0) < 0x8000) return true;  // made of contours
        for (std::size_t at = 10;;) {
            if (at + 4 > before.size()) return false;
            const std::uint32_t flags = bytes.u16(at);
            put_u16(outline, at + 2, keep(bytes.u16(at + 2)));
            at += (flags & words) != 0 ? 8 : 6;
            at += (flags & one_scale) != 0    ? 2
                  : (flags & two_scales) != 0 ? 4
                  : (flags & matrix) != 0     ? 8
                                              : 0;
            if ((flags & more) == 0) return true;
        }
    }
};

// Copyright, family, face and PostScript name; the licence's text and the like stay behind.
std::string name_of(const FontBytes& font) {
    constexpr std::uint32_t kept[] = {0, 1, 2, 6};
    const std::size_t table = font.table("name").at;
    const std::size_t texts_at = table + font.u16(table + 4);
    std::string records, texts;
    for (std::uint32_t i = 0; i < font.u16(table + 2); ++i) {
        const std::size_t record = table + 6 + 12 * std::size_t{i};
        const std::uint32_t length = font.u16(record + 8);
        if (record + 12 > font.size()) break;
        if (std::find(std::begin(kept), std::end(kept), font.u16(record + 6)) == std::end(kept)) continue;
        records.append(font.part(record, 8));
        append_u16(records, length);
        append_u16(records, texts.size());
        texts.append(font.part(texts_at + font.u16(record + 10), length));
    }
    std::string out;
    for (const std::size_t number : {std::size_t{0}, records.size() / 12, 6 + records.size()})
        append_u16(out, number);
    return out + records + texts;
}

std::string font_with(const std::vector<std::pair<std::string_view, std::string>>& tables) {
    std::size_t half = 1, steps = 0;
    for (; 2 * half <= tables.size(); half *= 2) ++steps;
    std::string out;
    append_u32(out, 0x00010000);  // TrueType outlines
    for (const std::size_t number : {tables.size(), 16 * half, steps, 16 * (tables.size() - half)})
        append_u16(out, number);
    std::size_t at = out.size() + 16 * tables.size();
    for (const auto& [tag, bytes] : tables) {
        out += tag;
        append_u32(out, 0);  // libharu sums up what it embeds
        append_u32(out, at);
        append_u32(out, bytes.size());
        at += (bytes.size() + 3) / 4 * 4;
    }
    out.reserve(at);
    for (const auto& [tag, bytes] : tables) {
        out += bytes;
        pad(out);
    }
    return out;
}

}  // namespace

std::string font_of_letters(std::string_view bytes, const std::set<char32_t>& letters) {
    const FontBytes font(bytes);
    const std::size_t characters = format_4_table(font);
    if (characters == 0) return {};
    for (const char* needed : {"OS/2", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post"})
        if (const auto table = font.table(needed);
            table.at == 0 || font.part(table.at, table.size).size() != table.size)
            return {};
    std::vector<Letter> kept = letters_in(font, characters, letters);
    if (kept.empty()) return {};
    Glyphs glyphs(font);
    for (Letter& letter : kept) letter.glyph = glyphs.keep(letter.glyph);
    if (!glyphs.take()) return {};
    const auto whole = [&](std::string_view tag) {
        const auto table = font.table(tag);
        return std::string(font.part(table.at, table.size));
    };
    std::string head = whole("head"), hhea = whole("hhea"), maxp = whole("maxp"), post = whole("post");
    if (head.size() < 54 || hhea.size() < 36 || maxp.size() < 6 || post.size() < 32) return {};
    put_u16(head, 50, 1);  // places of 4 bytes
    put_u16(hhea, 34, glyphs.count());
    put_u16(maxp, 4, glyphs.count());
    post.resize(32);
    put_u16(post, 0, 3);  // glyphs without names
    put_u16(post, 2, 0);
    std::string cmap = cmap_of(kept);
    if (cmap.empty()) return {};
    std::vector<std::pair<std::string_view, std::string>> tables{{"OS/2", whole("OS/2")}};
    tables.emplace_back("cmap", std::move(cmap));
    for (const char* tag : {"cvt ", "fpgm"})
        if (font.table(tag).at != 0) tables.emplace_back(tag, whole(tag));
    tables.emplace_back("glyf", std::move(glyphs.outlines));
    tables.emplace_back("head", std::move(head));
    tables.emplace_back("hhea", std::move(hhea));
    tables.emplace_back("hmtx", std::move(glyphs.widths));
    tables.emplace_back("loca", std::move(glyphs.places));
    tables.emplace_back("maxp", std::move(maxp));
    tables.emplace_back("name", name_of(font));
    tables.emplace_back("post", std::move(post));
    if (font.table("prep").at != 0) tables.emplace_back("prep", whole("prep"));
    return font_with(tables);
}

std::set<char32_t> common_letters() {
    std::set<char32_t> out;
    for (char32_t point = 0x20; point <= 0xFF; ++point)
        if (point < 0x7F || point >= 0xA0) out.insert(point);
    add_letters(out, "–—‘’“”„•…‰‹›−∞≤≥≈·⁰¹²³⁴⁵⁶⁷⁸⁹⁻");
    return out;
}

void add_letters(std::set<char32_t>& letters, std::string_view text) {
    for (std::size_t at = 0; at < text.size();)
        if (static_cast<unsigned char>(text[at]) < 0x80)
            ++at;
        else
            letters.insert(next_code_point(text, at));
}

}  // namespace tipwright::report::certificate
