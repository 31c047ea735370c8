#include "bench/instruments/learn/line_tokens.hpp"

#include <algorithm>
#include <set>

#include "bench/instruments/decimal.hpp"

namespace tipwright::bench {

namespace {

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

bool is_hex(std::string_view text) {
    return std::all_of(text.begin(), text.end(), [](char c) {
        return is_digit(c) || (c >= 'A' && c <= 'F') || (c >= 'a' && c <= 'f');
    });
}

// The last word, from behind a blank or one of the signs that part fields.
std::size_t last_word(std::string_view line) {
    const std::size_t at = line.find_last_of(" \t*,;");
    return at == std::string_view::npos ? 0 : at + 1;
}

}  // namespace

std::vector<LineToken> line_tokens(std::string_view line, char decimal_sign, bool checksum_last) {
    std::vector<LineToken> out;
    const std::size_t checksum = checksum_last ? last_word(line) : line.size();
    bool blank = false;
    for (std::size_t i = 0; i < line.size();) {
        if (is_blank(line[i])) {
            blank = true;
            ++i;
            continue;
        }
        LineToken token;
        token.begin = i;
        token.blank_before = blank;
        blank = false;
        if (i == checksum) {
            token.kind = LineToken::Kind::any;
            token.end = line.size();
        } else if (const auto number = scan_decimal(line.substr(i, checksum - i), decimal_sign)) {
            token.kind = LineToken::Kind::number;
            token.value = number->value;
            token.decimals = number->decimals;
            token.end = i + number->length;
        } else if (is_letter(line[i])) {
            token.kind = LineToken::Kind::word;
            token.end = i;
            while (token.end < checksum && is_letter(line[token.end])) ++token.end;
        } else {
            token.kind = LineToken::Kind::sign;
            token.end = i + 1;
        }
        token.text = std::string(line.substr(token.begin, token.end - token.begin));
        i = token.end;
        out.push_back(std::move(token));
    }
    return out;
}

std::string form_of(const std::vector<LineToken>& tokens) {
    std::string out;
    for (const LineToken& token : tokens) {
        if (token.blank_before && !out.empty()) out += ' ';
        switch (token.kind) {
            case LineToken::Kind::number:
                out += '\1';
                break;
            case LineToken::Kind::any:
                out += '\2';
                break;
            case LineToken::Kind::word:
            case LineToken::Kind::sign:
                out += token.text;
                break;
        }
        // "g" beside "kg": words that follow each other without a blank stay apart.
        if (token.kind == LineToken::Kind::word) out += '\3';
    }
    return out;
}

char decimal_sign_of(const std::vector<std::string>& lines) {
    std::size_t points = 0;
    std::size_t commas = 0;
    for (const std::string& line : lines)
        for (std::size_t i = 1; i + 1 < line.size(); ++i) {
            if (!is_digit(line[i - 1]) || !is_digit(line[i + 1])) continue;
            points += line[i] == '.';
            commas += line[i] == ',';
        }
    return points == 0 && commas > 0 ? ',' : '.';
}

bool ends_in_checksum(const std::vector<std::string>& lines) {
    std::set<std::string_view> seen;
    std::size_t length = 0;
    bool letters = false;
    for (const std::string& line : lines) {
        const std::string_view word = std::string_view(line).substr(last_word(line));
        if (word.size() < 2 || word.size() > 8 || word.size() == line.size() || !is_hex(word)) return false;
        if (length != 0 && word.size() != length) return false;
        length = word.size();
        letters = letters || std::any_of(word.begin(), word.end(), is_letter);
        seen.insert(word);
    }
    return letters && seen.size() >= 3;
}

}  // namespace tipwright::bench
