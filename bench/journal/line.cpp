#include "bench/journal/line.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <stdexcept>

#include "calib/base/ascii.hpp"
#include "calib/base/crc.hpp"

namespace tipwright::bench {

namespace {

// " *" and eight hexadecimal digits.
constexpr std::size_t checksum_length = 10;

// A look-up instead of comparisons: these are asked of nearly every byte of a journal.
class CharacterSort {
public:
    constexpr explicit CharacterSort(bool (*has)(char)) {
        for (std::size_t byte = 0; byte < has_.size(); ++byte) has_[byte] = has(static_cast<char>(byte));
    }
    bool operator()(char c) const { return has_[static_cast<unsigned char>(c)]; }

private:
    std::array<bool, 256> has_{};
};

constexpr CharacterSort is_name_character([](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
});
constexpr CharacterSort is_bare_character([](char c) {
    return c > ' ' && c <= '~' && c != '"' && c != '\\';
});
constexpr CharacterSort is_plain_when_quoted([](char c) { return c != '"' && c != '\\'; });

void append_name(std::string& out, std::string_view name) {
    bool good = !name.empty();
    for (char c : name) good = good && is_name_character(c);
    if (!good) throw std::logic_error("journal name with odd characters: " + std::string(name));
    out += name;
}

template <class Number>
void append_number(std::string& out, Number number) {
    char digits[40];
    const auto end = std::to_chars(digits, digits + sizeof digits, number).ptr;
    out.append(digits, end);
}

void append_quoted(std::string& out, std::string_view text) {
    out += '"';
    for (char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') {
            out += '\\';
            out += c;
        } else if (c == '\n') {
            out += "\\n";
        } else if (c == '\t') {
            out += "\\t";
        } else if (byte < 0x20 || byte == 0x7F) {
            out += "\\u";
            append_hex(out, byte, 4);
        } else {
            out += c;
        }
    }
    out += '"';
}

void append_text(std::string& out, std::string_view text) {
    bool bare = !text.empty();
    for (char c : text) bare = bare && is_bare_character(c);
    if (bare) {
        out += text;
    } else {
        append_quoted(out, text);
    }
}

struct AppendValue {
    std::string& out;
    void operator()(std::string_view text) const { append_text(out, text); }
    void operator()(bool value) const { out += value ? "true" : "false"; }
    void operator()(double value) const { append_number(out, value); }
    void operator()(std::int64_t value) const { append_number(out, value); }
    void operator()(std::uint64_t value) const { append_number(out, value); }
};

// As the program writes it: small letters only.
bool read_hex(std::string_view text, std::uint32_t& value) {
    value = 0;
    for (char c : text) {
        if (hex_value(c) < 0 || (c >= 'A' && c <= 'F')) return false;
        value = value << 4 | static_cast<std::uint32_t>(hex_value(c));
    }
    return true;
}

std::string_view take_while(std::string_view& rest, const CharacterSort& sort) {
    std::size_t length = 0;
    while (length < rest.size() && sort(rest[length])) ++length;
    const std::string_view taken = rest.substr(0, length);
    rest.remove_prefix(length);
    return taken;
}

// The blank between two parts of a line; after the last there is none.
bool take_blank(std::string_view& rest) {
    if (rest.empty()) return true;
    if (rest.front() != ' ') return false;
    rest.remove_prefix(1);
    return true;
}

template <class Number>
bool take_number(std::string_view& rest, Number& number) {
    const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
    rest.remove_prefix(static_cast<std::size_t>(end - rest.data()));
    return error == std::errc() && take_blank(rest);
}

// What follows a backslash, and what it stands for.
std::optional<char> take_escape(std::string_view& rest) {
    if (rest.empty()) return std::nullopt;
    const char c = rest.front();
    rest.remove_prefix(1);
    if (c == '"' || c == '\\') return c;
    if (c == 'n') return '\n';
    if (c == 't') return '\t';
    std::uint32_t code = 0;
    if (c != 'u' || rest.size() < 4 || !read_hex(rest.substr(0, 4), code) || code > 0x7F) return std::nullopt;
    rest.remove_prefix(4);
    return static_cast<char>(code);
}

// A quoted value, from its opening quote on. Where it has escapes, what they stand for is put into the line
// over them: it is shorter.
bool take_quoted(std::string_view& rest, std::span<char> line, std::string_view& value) {
    rest.remove_prefix(1);
    char* const begin = line.data() + (rest.data() - line.data());
    char* end = begin + take_while(rest, is_plain_when_quoted).size();
    while (!rest.empty() && rest.front() == '\\') {
        rest.remove_prefix(1);
        const auto meant = take_escape(rest);
        if (!meant) return false;
        *end++ = *meant;
        const std::string_view plain = take_while(rest, is_plain_when_quoted);
        end = std::copy(plain.begin(), plain.end(), end);
    }
    if (rest.empty()) return false;
    rest.remove_prefix(1);
    value = {begin, static_cast<std::size_t>(end - begin)};
    return true;
}

bool take_field(std::string_view& rest, std::span<char> line, JournalEntry::Field& field) {
    field.first = take_while(rest, is_name_character);
    if (field.first.empty() || !rest.starts_with('=')) return false;
    rest.remove_prefix(1);
    if (rest.starts_with('"')) return take_quoted(rest, line, field.second) && take_blank(rest);
    field.second = take_while(rest, is_bare_character);
    return !field.second.empty() && take_blank(rest);
}

}  // namespace

std::string_view JournalEntry::field(std::string_view name) const {
    for (const auto& [field_name, value] : fields) {
        if (field_name == name) return value;
    }
    return {};
}

void append_journal_line(std::string& out, std::uint64_t sequence, double time_s, std::string_view kind,
                         std::initializer_list<JournalField> fields) {
    const std::size_t begin = out.size();
    append_number(out, sequence);
    out += ' ';
    append_number(out, time_s);
    out += ' ';
    append_name(out, kind);
    for (const JournalField& field : fields) {
        out += ' ';
        append_name(out, field.name());
        out += '=';
        std::visit(AppendValue{out}, field.value());
    }
    const std::uint32_t checksum = journal_checksum(std::string_view(out).substr(begin));
    out += " *";
    append_hex(out, checksum, 8);
    out += '\n';
}

std::uint32_t journal_checksum(std::string_view bytes) {
    return ~crc_of<std::uint32_t, 0xEDB88320>(bytes, 0xFFFFFFFF);
}

const char* parse_journal_line(std::span<char> line, JournalEntry& entry) {
    if (line.size() < checksum_length) return "the line is cut short";
    std::string_view rest(line.data(), line.size() - checksum_length);
    const std::string_view tail(line.data() + rest.size(), checksum_length);
    std::uint32_t stated = 0;
    if (!tail.starts_with(" *") || !read_hex(tail.substr(2), stated)) return "the checksum is missing";
    if (journal_checksum(rest) != stated) return "the checksum does not match the line";

    if (!take_number(rest, entry.sequence)) return "the sequence number is not a number";
    if (!take_number(rest, entry.time_s) || !std::isfinite(entry.time_s)) return "the time is not a number";
    entry.kind = take_while(rest, is_name_character);
    if (!take_blank(rest)) return "the kind is not a word";
    if (entry.kind.empty()) return "the kind is missing";
    entry.fields.clear();
    while (!rest.empty()) {
        if (!take_field(rest, line, entry.fields.emplace_back())) return "a field is not name=value";
    }
    return nullptr;
}

}  // namespace tipwright::bench
