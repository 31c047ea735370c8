#include "report/certificate/letterhead.hpp"

#include <toml++/toml.h>

#include "report/files/files.hpp"
#include "report/files/toml_depth.hpp"

namespace tipwright::report {

namespace {

constexpr std::size_t max_letterhead_bytes = 16u << 10;
constexpr std::size_t max_picture_bytes = 4u << 20;

std::string place(const std::string& name, const toml::source_region& at) {
    return name + ":" + std::to_string(at.begin.line) + ":" + std::to_string(at.begin.column);
}

unsigned byte_at(const std::string& bytes, std::size_t at) {
    return at < bytes.size() ? static_cast<unsigned char>(bytes[at]) : 0U;
}

// Components of a JPEG, from its frame header (ITU-T T.81 B.2.2); 0: none found.
unsigned jpeg_components(const std::string& bytes) {
    std::size_t at = 2;
    while (at + 4 < bytes.size() && byte_at(bytes, at) == 0xFF) {
        const unsigned marker = byte_at(bytes, at + 1);
        const bool frame =
            marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC;
        if (frame) return byte_at(bytes, at + 9);
        at += 2 + 256 * byte_at(bytes, at + 2) + byte_at(bytes, at + 3);
    }
    return 0;
}

// Kinds of pictures that the PDF library sets wrongly, said in words; empty: it is none of them.
std::string unfit_picture(const std::string& bytes) {
    if (byte_at(bytes, 0) != 0x89) {
        const unsigned components = jpeg_components(bytes);
        if (components == 4) return "a JPEG in CMYK";
        return components == 1 || components == 3 ? "" : "a JPEG without a frame that can be read";
    }
    // IHDR, ISO/IEC 15948 11.2.2: depth, colour type, compression, filter, interlace.
    if (byte_at(bytes, 24) == 16) return "a PNG of 16 bits";
    if (byte_at(bytes, 28) != 0) return "an interlaced PNG";
    if (byte_at(bytes, 25) == 4) return "a grey PNG with transparency";
    return {};
}

Result<std::string> read_picture(const std::filesystem::path& path, const std::string& named_in) {
    auto bytes = read_file(path, max_picture_bytes, "name a PNG or JPEG file, relative to " + named_in);
    if (!bytes) return bytes.fault();
    if (bytes->rfind("\x89PNG", 0) != 0 && bytes->rfind("\xFF\xD8", 0) != 0)
        return Fault{FaultCode::damaged, "neither a PNG nor a JPEG picture", path.string(),
                     "give a PNG or a JPEG file"};
    if (const std::string unfit = unfit_picture(*bytes); !unfit.empty())
        return Fault{FaultCode::bad_value, unfit + ", which would not come out as it is", path.string(),
                     "save it as a plain RGB or grey picture: PNG of 8 bits, not interlaced, or JPEG"};
    return bytes;
}

}  // namespace

Result<Letterhead> load_letterhead(const std::filesystem::path& file) {
    const std::string name = file.string();
    const auto text =
        read_file(file, max_letterhead_bytes, "name a file like templates/certificate/letterhead.toml");
    if (!text) return text.fault();
    if (auto shallow = check_toml_depth(*text, name); !shallow) return shallow.fault();
    toml::table table;
    try {
        table = toml::parse(*text, name);
    } catch (const toml::parse_error& error) {
        return Fault{FaultCode::syntax, std::string(error.description()), place(name, error.source()),
                     "correct the file"};
    }
    Letterhead head;
    std::string picture;
    std::string mark;
    for (const auto& [key, node] : table) {
        std::string* wanted = key == "picture"              ? &picture
                              : key == "accreditation_mark" ? &mark
                              : key == "laboratory"         ? &head.laboratory
                              : key == "note"               ? &head.note
                              : key == "foot"               ? &head.foot
                              : key == "country"            ? &head.country
                                                            : nullptr;
        if (!wanted)
            return Fault{FaultCode::unknown_field, in_quotes(key.str()) + " is not an entry of a letterhead",
                         place(name, node.source()),
                         "use only: picture, accreditation_mark, laboratory, note, foot, country"};
        const auto value = node.value<std::string>();
        if (!value)
            return Fault{FaultCode::bad_value, in_quotes(key.str()) + " is not a text",
                         place(name, node.source()), "write it in quotes"};
        *wanted = *value;
    }
    if (!picture.empty()) {
        head.picture_name = (file.parent_path() / picture).string();
        auto bytes = read_picture(head.picture_name, name);
        if (!bytes) return bytes.fault();
        head.picture = std::move(*bytes);
    }
    if (!mark.empty()) {
        head.mark_name = (file.parent_path() / mark).string();
        auto bytes = read_picture(head.mark_name, name);
        if (!bytes) return bytes.fault();
        head.mark = std::move(*bytes);
    }
    return head;
}

}  // namespace tipwright::report
