#include "report/certificate/font_file.hpp"

#include <hb-subset.h>
#include <hb.h>

#include <algorithm>
#include <array>
#include <memory>

#include "calib/base/text.hpp"
#include "report/files/files.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr std::size_t max_font_bytes = 64u << 20;

template <auto destroy>
struct Destroy {
    template <class T>
    void operator()(T* thing) const {
        destroy(thing);
    }
};
using Blob = std::unique_ptr<hb_blob_t, Destroy<hb_blob_destroy>>;
using FontFace = std::unique_ptr<hb_face_t, Destroy<hb_face_destroy>>;
using CharacterSet = std::unique_ptr<hb_set_t, Destroy<hb_set_destroy>>;
using SubsetInput = std::unique_ptr<hb_subset_input_t, Destroy<hb_subset_input_destroy>>;

// Of bytes that outlive it.
FontFace face_of(std::string_view bytes) {
    const Blob blob(hb_blob_create(bytes.data(), static_cast<unsigned>(bytes.size()), HB_MEMORY_MODE_READONLY,
                                   nullptr, nullptr));
    return FontFace(hb_face_create(blob.get(), 0));
}

CharacterSet characters_of(const FontFace& face) {
    CharacterSet characters(hb_set_create());
    hb_face_collect_unicodes(face.get(), characters.get());
    return characters;
}

// HarfBuzz takes what lies beyond the end for empty: letters would vanish without a word.
bool cut_short(std::string_view bytes) {
    const auto number = [&](std::size_t at, std::size_t size) {  // big-endian
        std::size_t value = 0;
        for (std::size_t i = 0; i < size; ++i) value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
        return value;
    };
    constexpr std::size_t header = 12, entry = 16;  // OpenType specification, "table directory"
    if (bytes.size() < header) return true;
    const std::size_t end = header + entry * number(4, 2);
    if (bytes.size() < end) return true;
    for (std::size_t at = header; at < end; at += entry)
        if (number(at + 8, 4) + number(at + 12, 4) > bytes.size()) return true;
    return false;
}

}  // namespace

bool FontCharacters::has(char32_t point) const {
    const auto after = std::upper_bound(ranges_.begin(), ranges_.end(), point,
                                        [](char32_t p, const auto& range) { return p < range.first; });
    return after != ranges_.begin() && point <= (after - 1)->second;
}

Result<FontCharacters> FontCharacters::from_bytes(std::string_view bytes, const std::string& name) {
    const FontFace face = face_of(bytes);
    const CharacterSet characters = characters_of(face);
    FontCharacters font;
    hb_codepoint_t first = HB_SET_VALUE_INVALID, last = HB_SET_VALUE_INVALID;
    while (hb_set_next_range(characters.get(), &first, &last)) font.ranges_.emplace_back(first, last);
    if (font.empty())
        return Fault{FaultCode::damaged, "no table of characters in the font", name,
                     "give a TrueType font, for example DejaVuSans.ttf of the package fonts-dejavu-core"};
    return font;
}

std::string font_of_letters(std::string_view bytes, const std::set<char32_t>& letters) {
    if (cut_short(bytes)) return {};
    const FontFace face = face_of(bytes);
    const CharacterSet characters = characters_of(face);
    const SubsetInput input(hb_subset_input_create_or_fail());
    if (!input) return {};
    hb_set_t* kept = hb_subset_input_unicode_set(input.get());
    for (const char32_t letter : letters)
        if (hb_set_has(characters.get(), letter)) hb_set_add(kept, letter);
    if (hb_set_is_empty(kept)) return {};
    hb_subset_input_set_flags(input.get(), HB_SUBSET_FLAGS_NOTDEF_OUTLINE);
    // Letters are drawn one by one.
    hb_set_t* left_out = hb_subset_input_set(input.get(), HB_SUBSET_SETS_DROP_TABLE_TAG);
    for (const char* table : {"GDEF", "GPOS", "GSUB", "kern"})
        hb_set_add(left_out, hb_tag_from_string(table, 4));
    const FontFace smaller(hb_subset_or_fail(face.get(), input.get()));
    if (!smaller) return {};
    const Blob blob(hb_face_reference_blob(smaller.get()));
    unsigned size = 0;
    const char* data = hb_blob_get_data(blob.get(), &size);
    return {data, size};
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
