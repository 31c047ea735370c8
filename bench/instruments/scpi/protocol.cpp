#include "bench/instruments/scpi/protocol.hpp"

#include <charconv>
#include <cmath>

namespace tipwright::bench {

namespace {

constexpr std::size_t digits_max = 40;
constexpr double infinity_value = 9.9e37;
constexpr double not_a_number_value = 9.91e37;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
    return text;
}

std::size_t count_digits(std::string_view text, std::size_t at) {
    const std::size_t begin = at;
    while (at < text.size() && is_digit(text[at])) ++at;
    return at - begin;
}

// Sign, digits, point, digits, E, sign, digits: its shape and how many digits it shows behind the point.
std::optional<int> shown_decimals(std::string_view text) {
    std::size_t at = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0;
    const std::size_t before = count_digits(text, at);
    at += before;
    std::size_t behind = 0;
    if (at < text.size() && text[at] == '.') {
        behind = count_digits(text, ++at);
        at += behind;
    }
    if (before + behind == 0 || before + behind > digits_max) return std::nullopt;
    int exponent = 0;
    if (at < text.size() && (text[at] == 'E' || text[at] == 'e')) {
        ++at;
        const bool negative = at < text.size() && text[at] == '-';
        if (at < text.size() && (text[at] == '+' || text[at] == '-')) ++at;
        const std::size_t digits = count_digits(text, at);
        if (digits == 0 || digits > 4) return std::nullopt;
        for (std::size_t i = 0; i < digits; ++i) exponent = exponent * 10 + (text[at + i] - '0');
        if (negative) exponent = -exponent;
        at += digits;
    }
    if (at != text.size()) return std::nullopt;
    return static_cast<int>(behind) - exponent;
}

}  // namespace

std::optional<ScpiNumber> read_scpi_number(std::string_view text) {
    const std::string_view whole = trimmed(text);
    const auto decimals = shown_decimals(whole);
    if (!decimals) return std::nullopt;
    const std::string_view unsigned_text = whole.front() == '+' ? whole.substr(1) : whole;
    ScpiNumber number;
    number.decimals = *decimals;
    const auto [end, error] =
        std::from_chars(unsigned_text.data(), unsigned_text.data() + unsigned_text.size(), number.value);
    if (error != std::errc() || end != unsigned_text.data() + unsigned_text.size()) return std::nullopt;
    if (number.value == not_a_number_value) number.kind = ScpiNumber::Kind::not_a_number;
    if (std::abs(number.value) == infinity_value) number.kind = ScpiNumber::Kind::infinite;
    return number;
}

std::vector<std::string_view> split_scpi(std::string_view line) {
    std::vector<std::string_view> elements;
    std::size_t begin = 0;
    char quote = 0;
    for (std::size_t at = 0; at <= line.size(); ++at) {
        if (at < line.size() && quote) {
            if (line[at] == quote) quote = 0;
        } else if (at < line.size() && (line[at] == '"' || line[at] == '\'')) {
            quote = line[at];
        } else if (at == line.size() || line[at] == ',') {
            elements.push_back(trimmed(line.substr(begin, at - begin)));
            begin = at + 1;
        }
    }
    return elements;
}

std::optional<ScpiError> read_scpi_error(std::string_view line) {
    const std::vector<std::string_view> elements = split_scpi(line);
    if (elements.size() < 2) return std::nullopt;
    std::string_view code = elements[0];
    if (!code.empty() && code.front() == '+') code.remove_prefix(1);
    ScpiError error;
    const auto [end, wrong] = std::from_chars(code.data(), code.data() + code.size(), error.code);
    if (wrong != std::errc() || end != code.data() + code.size()) return std::nullopt;
    std::string_view text = elements[1];
    if (text.size() < 2 || text.front() != '"' || text.back() != '"') return std::nullopt;
    error.text = text.substr(1, text.size() - 2);
    return error;
}

}  // namespace tipwright::bench
