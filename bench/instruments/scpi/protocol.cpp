#include "bench/instruments/scpi/protocol.hpp"

#include <charconv>
#include <cmath>
#include <cstdint>

#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t digits_max = 40;
constexpr double infinity_value = 9.9e37;
constexpr double not_a_number_value = 9.91e37;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
std::size_t count_digits(std::string_view text, std::size_t at) {
    const std::size_t begin = at;
    while (at < text.size() && is_digit(text[at])) ++at;
    return at - begin;
}

constexpr int exact_digits = 15;
// Exact in a double: a number of up to 15 digits times or divided by one of these is correctly rounded
// (Clinger 1990, How to read floating point numbers accurately).
constexpr double powers_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
constexpr int exact_power = 22;

struct Shape {
    bool negative = false;
    int decimals = 0;          // digits behind the point that it shows
    std::uint64_t digits = 0;  // without the point, as long as they are not more than exact_digits
    int significant = 0;       // how many there are from the first that is not 0 on
};

void take_digits(std::string_view text, std::size_t& at, Shape& shape) {
    for (; at < text.size() && is_digit(text[at]); ++at) {
        if (shape.significant > 0 || text[at] != '0') ++shape.significant;
        if (shape.significant <= exact_digits)
            shape.digits = shape.digits * 10 + static_cast<std::uint64_t>(text[at] - '0');
    }
}

// Sign, digits, point, digits, E, sign, digits.
std::optional<Shape> shape_of(std::string_view text) {
    Shape shape;
    shape.negative = !text.empty() && text[0] == '-';
    std::size_t at = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0;
    const std::size_t begin = at;
    take_digits(text, at, shape);
    std::size_t written = at - begin;
    if (at < text.size() && text[at] == '.') {
        const std::size_t point = ++at;
        take_digits(text, at, shape);
        shape.decimals = static_cast<int>(at - point);
        written += at - point;
    }
    if (written == 0 || written > digits_max) return std::nullopt;
    if (at < text.size() && (text[at] == 'E' || text[at] == 'e')) {
        ++at;
        const bool negative = at < text.size() && text[at] == '-';
        if (at < text.size() && (text[at] == '+' || text[at] == '-')) ++at;
        const std::size_t digits = count_digits(text, at);
        if (digits == 0 || digits > 4) return std::nullopt;
        int exponent = 0;
        for (std::size_t i = 0; i < digits; ++i) exponent = exponent * 10 + (text[at + i] - '0');
        shape.decimals -= negative ? -exponent : exponent;
        at += digits;
    }
    if (at != text.size()) return std::nullopt;
    return shape;
}

}  // namespace

std::optional<ScpiNumber> read_scpi_number(std::string_view text) {
    const std::string_view whole = trimmed(text);
    const auto shape = shape_of(whole);
    if (!shape) return std::nullopt;
    ScpiNumber number;
    number.decimals = shape->decimals;
    if (shape->significant <= exact_digits && std::abs(shape->decimals) <= exact_power) {
        const auto digits = static_cast<double>(shape->digits);
        const double size = shape->decimals >= 0 ? digits / powers_of_ten[shape->decimals]
                                                 : digits * powers_of_ten[-shape->decimals];
        number.value = shape->negative ? -size : size;
    } else {
        const std::string_view rest = whole.front() == '+' ? whole.substr(1) : whole;
        const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), number.value);
        if (error != std::errc() || end != rest.data() + rest.size()) return std::nullopt;
    }
    if (number.value == not_a_number_value) number.kind = ScpiNumber::Kind::not_a_number;
    if (std::abs(number.value) == infinity_value) number.kind = ScpiNumber::Kind::infinite;
    return number;
}

std::vector<std::string_view> split_scpi(std::string_view line) {
    constexpr std::size_t usual_elements = 8;
    std::vector<std::string_view> elements;
    elements.reserve(usual_elements);
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
