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
    for (const auto& [key, node] : table) {
        std::string* wanted = key == "picture"   ? &picture
                              : key == "note"    ? &head.note
                              : key == "foot"    ? &head.foot
                              : key == "country" ? &head.country
                                                 : nullptr;
        if (!wanted)
            return Fault{FaultCode::unknown_field, in_quotes(key.str()) + " is not an entry of a letterhead",
                         place(name, node.source()), "use only: picture, note, foot, country"};
        const auto value = node.value<std::string>();
        if (!value)
            return Fault{FaultCode::bad_value, in_quotes(key.str()) + " is not a text",
                         place(name, node.source()), "write it in quotes"};
        *wanted = *value;
    }
    if (picture.empty()) return head;
    const std::filesystem::path path = file.parent_path() / picture;
    const auto bytes = read_file(path, max_picture_bytes, "name a PNG or JPEG file, relative to " + name);
    if (!bytes) return bytes.fault();
    if (bytes->rfind("\x89PNG", 0) != 0 && bytes->rfind("\xFF\xD8", 0) != 0)
        return Fault{FaultCode::damaged, "neither a PNG nor a JPEG picture", path.string(),
                     "give a PNG or a JPEG file"};
    head.picture = *bytes;
    head.picture_name = path.string();
    return head;
}

}  // namespace tipwright::report
