#include "report/register/detail.hpp"

#include <charconv>
#include <nlohmann/json.hpp>

#include "calib/base/ascii.hpp"

namespace tipwright::report {
namespace {

void append_string(std::string& out, std::string_view text) {
    out.push_back('"');
    for (const char c : text) {
        if (c == '"' || c == '\\') {
            out.push_back('\\');
            out.push_back(c);
        } else if (static_cast<unsigned char>(c) < 0x20) {
            out += "\\u";
            append_hex(out, static_cast<unsigned char>(c), 4);
        } else {
            out.push_back(c);
        }
    }
    out.push_back('"');
}

}  // namespace

void Detail::key(std::string_view name) {
    if (!body_.empty()) body_.push_back(',');
    append_string(body_, name);
    body_.push_back(':');
}

Detail& Detail::text(std::string_view name, std::string_view value) {
    if (value.empty()) return *this;
    key(name);
    append_string(body_, value);
    return *this;
}

Detail& Detail::integer(std::string_view name, std::int64_t value) {
    if (value == 0) return *this;
    key(name);
    body_ += std::to_string(value);
    return *this;
}

Detail& Detail::real(std::string_view name, const std::optional<double>& value) {
    if (!value) return *this;
    key(name);
    char out[40];
    const auto end = std::to_chars(out, out + sizeof out, *value);
    body_.append(out, end.ptr);
    return *this;
}

std::string text_in(const std::string& detail, const char* name) {
    const nlohmann::json said = nlohmann::json::parse(detail, nullptr, false);
    if (!said.is_object() || !said.contains(name) || !said[name].is_string()) return {};
    return said[name].get<std::string>();
}

std::int64_t integer_in(const std::string& detail, const char* name) {
    const nlohmann::json said = nlohmann::json::parse(detail, nullptr, false);
    if (!said.is_object() || !said.contains(name) || !said[name].is_number_integer()) return 0;
    return said[name].get<std::int64_t>();
}

}  // namespace tipwright::report
