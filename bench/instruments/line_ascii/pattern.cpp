#include "bench/instruments/line_ascii/pattern.hpp"

#include <algorithm>
#include <cstring>
#include <stdexcept>

#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_printable(char c) {
    return (c >= ' ' && c <= '~') || c == '\t';
}

Fault wrong(std::string what, std::string remedy) {
    return {FaultCode::bad_value, std::move(what), "", std::move(remedy)};
}

struct Format {
    int width = 0;
    int decimals = -1;
    bool zero_filled = false;
};

// "7", ".2", "7.2", "07.2".
std::optional<Format> parse_format(std::string_view text) {
    Format format;
    std::size_t at = 0;
    if (at < text.size() && text[at] == '0') {
        format.zero_filled = true;
        ++at;
    }
    for (; at < text.size() && is_digit(text[at]) && format.width <= 40; ++at) {
        format.width = format.width * 10 + (text[at] - '0');
    }
    if (at < text.size() && text[at] == '.') {
        if (at + 2 != text.size() || !is_digit(text[at + 1])) return std::nullopt;
        format.decimals = text[at + 1] - '0';
        at += 2;
    }
    if (text.empty() || at != text.size() || format.width > 40) return std::nullopt;
    return format;
}

std::string names_of(std::span<const FieldName> fields) {
    std::string names = "_";
    for (const FieldName& field : fields) names += ", " + std::string(field.name);
    return names;
}

}  // namespace

Result<Pattern> Pattern::compile(std::string_view notation, std::span<const FieldName> fields,
                                 char decimal_sign) {
    Pattern pattern;
    pattern.notation_ = notation;
    pattern.decimal_sign_ = decimal_sign;
    std::string_view rest = trimmed(notation);
    if (rest.empty()) return wrong("the pattern is empty", "write the line as the instrument sends it");
    auto add_literal = [&](char c) {
        if (pattern.parts_.empty() || pattern.parts_.back().kind != PartKind::literal) {
            if (!pattern.parts_.empty()) pattern.parts_.back().stop = c;
            pattern.parts_.push_back({PartKind::literal, "", {}, 0, -1, false, ' '});
        }
        pattern.parts_.back().literal += c;
    };
    while (!rest.empty()) {
        const char c = rest.front();
        if (!is_printable(c)) return wrong("the pattern has a character that is not printable ASCII", "");
        if (!pattern.parts_.empty() && pattern.parts_.back().kind == PartKind::text) {
            return wrong("a field for the rest of the line must stand last", "");
        }
        if (is_blank(c)) {
            while (!rest.empty() && is_blank(rest.front())) rest.remove_prefix(1);
            pattern.parts_.push_back({PartKind::blanks, "", {}, 0, -1, false, ' '});
            continue;
        }
        if (rest.size() >= 2 && rest[0] == rest[1] && (c == '{' || c == '}')) {
            add_literal(c);
            rest.remove_prefix(2);
            continue;
        }
        if (c == '}') return wrong("a } without its {", "write }} for a brace that is meant as such");
        if (c != '{') {
            add_literal(c);
            rest.remove_prefix(1);
            continue;
        }
        const std::size_t close = rest.find('}');
        if (close == std::string_view::npos)
            return wrong("a { without its }", "write {{ for a brace that is meant as such");
        const std::string_view inside = rest.substr(1, close - 1);
        rest.remove_prefix(close + 1);
        const std::size_t colon = std::min(inside.find(':'), inside.size());
        const std::string_view name = inside.substr(0, colon);
        Part part;
        if (name == "_" && colon == inside.size()) {
            part.kind = PartKind::ignored_word;
            pattern.parts_.push_back(part);
            continue;
        }
        const auto known =
            std::find_if(fields.begin(), fields.end(), [&](const FieldName& f) { return f.name == name; });
        if (known == fields.end()) {
            return wrong("there is no field {" + std::string(name) + "} here",
                         "fields are " + names_of(fields));
        }
        if (pattern.position(name)) return wrong("the field {" + std::string(name) + "} stands twice", "");
        if (pattern.fields_.size() == pattern_fields_max) {
            return wrong("more than " + std::to_string(pattern_fields_max) + " fields",
                         "use {_} for what is not needed");
        }
        part.name = known->name;
        part.kind = known->kind == FieldKind::number ? PartKind::number
                    : known->kind == FieldKind::word ? PartKind::word
                                                     : PartKind::text;
        if (colon != inside.size()) {
            const auto format = parse_format(inside.substr(colon + 1));
            if (!format || part.kind != PartKind::number) {
                return wrong("the format in {" + std::string(inside) + "} is not understood",
                             "numbers take a width, decimals or both: {" + std::string(name) + ":7.2}");
            }
            part.width = format->width;
            part.decimals = format->decimals;
            part.zero_filled = format->zero_filled;
            // A flexible blank before a fixed width would swallow the columns that the width counts.
            if (part.width > 0 && !pattern.parts_.empty() && pattern.parts_.back().kind == PartKind::blanks) {
                pattern.parts_.back().kind = PartKind::one_blank;
            }
        }
        if (!pattern.parts_.empty() && pattern.parts_.back().kind != PartKind::literal &&
            pattern.parts_.back().kind != PartKind::blanks &&
            pattern.parts_.back().kind != PartKind::one_blank) {
            return wrong("two fields with nothing between them", "put the text that parts them between");
        }
        pattern.fields_.push_back(part.name);
        pattern.parts_.push_back(std::move(part));
    }
    return pattern;
}

std::optional<std::size_t> Pattern::position(std::string_view field) const {
    const auto found = std::find(fields_.begin(), fields_.end(), field);
    if (found == fields_.end()) return std::nullopt;
    return static_cast<std::size_t>(found - fields_.begin());
}

bool Pattern::match_number(const Part& part, std::string_view& rest, FieldValues& values) const {
    std::size_t padding = 0;
    if (part.width > 0) {
        while (padding < rest.size() && rest[padding] == ' ') ++padding;
        rest.remove_prefix(padding);
    }
    // Read where it stays: a copy would wait for what was written last.
    FieldValue& value = values.emplace_back();
    const Decimal& number = value.number;
    if (!scan_decimal(rest, decimal_sign_, value.number)) return false;
    if (part.decimals >= 0 && number.decimals != part.decimals) return false;
    // Who pads with blanks does not pad with zeros: a zero in front was a blank once.
    if (padding > 0 && number.length >= 2 && rest[0] == '0' && is_digit(rest[1])) return false;
    const auto width = static_cast<std::size_t>(part.width);
    if (padding + number.length != width && part.width > 0 && (padding > 0 || number.length < width))
        return false;
    value.text = rest.substr(0, number.length);
    rest.remove_prefix(number.length);
    return true;
}

inline bool Pattern::match_part(const Part& part, std::string_view& rest, FieldValues& values) const {
    switch (part.kind) {
        case PartKind::literal:
            // By hand: literals are too short for a call to pay.
            if (rest.size() < part.literal.size()) return false;
            for (std::size_t i = 0; i < part.literal.size(); ++i)
                if (rest[i] != part.literal[i]) return false;
            rest.remove_prefix(part.literal.size());
            return true;
        case PartKind::one_blank:
        case PartKind::blanks:
            if (rest.empty() || !is_blank(rest.front())) return false;
            rest.remove_prefix(1);
            while (part.kind == PartKind::blanks && !rest.empty() && is_blank(rest.front()))
                rest.remove_prefix(1);
            return true;
        case PartKind::number:
            return match_number(part, rest, values);
        case PartKind::ignored_word:
        case PartKind::word: {
            std::size_t length = 0;
            while (length < rest.size() && !is_blank(rest[length]) && rest[length] != part.stop) {
                if (!is_printable(rest[length])) return false;
                ++length;
            }
            if (length == 0) return false;
            if (part.kind == PartKind::word) values.emplace_back().text = rest.substr(0, length);
            rest.remove_prefix(length);
            return true;
        }
        case PartKind::text:
            if (rest.empty() || !std::all_of(rest.begin(), rest.end(), is_printable)) return false;
            values.emplace_back().text = rest;
            rest.remove_prefix(rest.size());
            return true;
    }
    return false;
}

bool Pattern::match(std::string_view line, FieldValues& values) const {
    std::string_view rest = trimmed(line);
    values.clear();
    for (const Part& part : parts_) {
        if (!match_part(part, rest, values)) return false;
    }
    return rest.empty();
}

std::string Pattern::wording_of(const Part& part) {
    switch (part.kind) {
        case PartKind::literal:
            return in_quotes(part.literal);
        case PartKind::one_blank:
        case PartKind::blanks:
            return "a blank";
        case PartKind::number: {
            std::string text = "a number {" + std::string(part.name) + "}";
            if (part.width > 0) text += " set right in " + std::to_string(part.width) + " columns";
            if (part.decimals >= 0) text += " with " + std::to_string(part.decimals) + " decimals";
            return text;
        }
        case PartKind::ignored_word:
            return "a word {_}";
        case PartKind::word:
            return "a word {" + std::string(part.name) + "}";
        case PartKind::text:
            return "printable text {" + std::string(part.name) + "}";
    }
    return "";
}

std::optional<PatternMismatch> Pattern::mismatch(std::string_view line) const {
    std::string_view rest = trimmed(line);
    FieldValues values;
    for (const Part& part : parts_) {
        // An empty rest has no place of its own: it stands where the line, without its blanks, ends.
        const auto at = static_cast<std::size_t>(rest.data() - line.data());
        if (!match_part(part, rest, values)) return PatternMismatch{at, wording_of(part)};
    }
    if (rest.empty()) return std::nullopt;
    return PatternMismatch{static_cast<std::size_t>(rest.data() - line.data()), "the end of the line"};
}

std::string Pattern::print(std::span<const std::pair<std::string_view, double>> values) const {
    std::string line;
    for (const Part& part : parts_) {
        if (part.kind == PartKind::literal) line += part.literal;
        if (part.kind == PartKind::blanks || part.kind == PartKind::one_blank) line += ' ';
        if (part.kind != PartKind::number) continue;
        const auto value =
            std::find_if(values.begin(), values.end(), [&](const auto& v) { return v.first == part.name; });
        if (value == values.end()) throw std::logic_error("no value for the field " + std::string(part.name));
        std::string number = decimal_text(value->second, part.decimals >= 0 ? part.decimals : 3);
        std::replace(number.begin(), number.end(), '.', decimal_sign_);
        const auto width = static_cast<std::size_t>(part.width);
        const std::size_t sign = number.front() == '-' ? 1 : 0;
        if (number.size() < width && part.zero_filled) number.insert(sign, width - number.size(), '0');
        if (number.size() < width) number.insert(0, width - number.size(), ' ');
        line += number;
    }
    return line;
}

}  // namespace tipwright::bench
