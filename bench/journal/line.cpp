#include "bench/journal/line.hpp"

#include <charconv>
#include <cmath>
#include <cstring>
#include <stdexcept>

#include <zlib.h>

#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

// " *" and eight hexadecimal digits.
constexpr std::size_t checksum_length = 10;

bool is_name_character(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

bool is_bare_character(char c) {
    return c > ' ' && c <= '~' && c != '"' && c != '\\';
}

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

int hex_value(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return -1;
}

bool read_hex(std::string_view text, std::uint32_t& value) {
    value = 0;
    for (char c : text) {
        const int digit = hex_value(c);
        if (digit < 0) return false;
        value = (value << 4) | static_cast<std::uint32_t>(digit);
    }
    return true;
}

template <class Number>
bool read_number(std::string_view text, Number& number) {
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    return error == std::errc() && end == text.data() + text.size();
}

// Takes the text up to the next blank, and that blank, off the front.
std::string_view take_word(std::string_view& rest) {
    const std::size_t length = std::min(rest.find(' '), rest.size());
    const std::string_view word = rest.substr(0, length);
    rest.remove_prefix(length < rest.size() ? length + 1 : length);
    return word;
}

// Takes a quoted value off the front, from its opening quote on.
bool take_quoted(std::string_view& rest, std::string& value) {
    value.clear();
    std::size_t at = 1;
    for (; at < rest.size() && rest[at] != '"'; ++at) {
        char c = rest[at];
        if (c == '\\') {
            if (++at >= rest.size()) return false;
            c = rest[at];
            if (c == 'n') {
                c = '\n';
            } else if (c == 't') {
                c = '\t';
            } else if (c == 'u') {
                std::uint32_t code = 0;
                if (at + 4 >= rest.size() || !read_hex(rest.substr(at + 1, 4), code) || code > 0x7F)
                    return false;
                c = static_cast<char>(code);
                at += 4;
            } else if (c != '"' && c != '\\') {
                return false;
            }
        }
        value += c;
    }
    if (at >= rest.size()) return false;
    ++at;
    if (at < rest.size()) {
        if (rest[at] != ' ') return false;
        ++at;
    }
    rest.remove_prefix(at);
    return true;
}

bool take_field(std::string_view& rest, std::pair<std::string, std::string>& field) {
    std::size_t length = 0;
    while (length < rest.size() && is_name_character(rest[length])) ++length;
    if (length == 0 || length >= rest.size() || rest[length] != '=') return false;
    field.first.assign(rest.substr(0, length));
    rest.remove_prefix(length + 1);
    if (!rest.empty() && rest.front() == '"') return take_quoted(rest, field.second);
    const std::string_view value = take_word(rest);
    for (char c : value) {
        if (!is_bare_character(c)) return false;
    }
    field.second.assign(value);
    return !value.empty();
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
    return static_cast<std::uint32_t>(
        ::crc32_z(0, reinterpret_cast<const Bytef*>(bytes.data()), bytes.size()));
}

const char* parse_journal_line(std::string_view line, JournalEntry& entry) {
    if (line.size() < checksum_length) return "the line is cut short";
    const std::string_view tail = line.substr(line.size() - checksum_length);
    std::uint32_t stated = 0;
    if (tail.substr(0, 2) != " *" || !read_hex(tail.substr(2), stated)) return "the checksum is missing";
    std::string_view rest = line.substr(0, line.size() - checksum_length);
    if (journal_checksum(rest) != stated) return "the checksum does not match the line";

    if (!read_number(take_word(rest), entry.sequence)) return "the sequence number is not a number";
    if (!read_number(take_word(rest), entry.time_s) || !std::isfinite(entry.time_s)) {
        return "the time is not a number";
    }
    entry.kind.assign(take_word(rest));
    for (char c : entry.kind) {
        if (!is_name_character(c)) return "the kind is not a word";
    }
    if (entry.kind.empty()) return "the kind is missing";
    std::size_t count = 0;
    while (!rest.empty()) {
        if (count == entry.fields.size()) entry.fields.emplace_back();
        if (!take_field(rest, entry.fields[count])) return "a field is not name=value";
        ++count;
    }
    entry.fields.resize(count);
    return nullptr;
}

}  // namespace tipwright::bench
