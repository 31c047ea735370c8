#include "bench/instruments/scpi/protocol.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include "calib/base/ascii.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t digits_max = 40;
constexpr std::size_t exponent_digits_max = 4;
constexpr double infinity_value = 9.9e37;
constexpr double not_a_number_value = 9.91e37;

// A number below this takes one digit more and is still exact in a double.
constexpr std::uint64_t room_for_a_digit = 100'000'000'000'000;
// Exact in a double: a number of up to 15 digits times or divided by one of these is correctly rounded
// (Clinger 1990, How to read floating point numbers accurately).
constexpr double powers_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
constexpr int exact_power = 22;

bool take(std::string_view& rest, char c) {
    if (rest.empty() || rest.front() != c) return false;
    rest.remove_prefix(1);
    return true;
}

bool take_minus(std::string_view& rest) {
    const bool minus = take(rest, '-');
    if (!minus) take(rest, '+');
    return minus;
}

struct Digits {
    std::uint64_t value = 0;
    std::size_t count = 0;
    bool exact = true;  // all of them are in the value
};

void take_digits(std::string_view& rest, Digits& digits) {
    std::uint64_t value = digits.value;
    std::size_t taken = 0;
    for (; taken < rest.size(); ++taken) {
        const auto digit = static_cast<unsigned>(rest[taken] - '0');
        if (digit > 9) break;
        if (value >= room_for_a_digit) {
            digits.exact = false;
            continue;
        }
        value = value * 10 + digit;
    }
    digits.value = value;
    digits.count += taken;
    rest.remove_prefix(taken);
}

// What parts elements, or hides what would.
constexpr auto parting = [] {
    std::array<bool, 256> marks{};
    for (const char mark : {',', '"', '\''}) marks[static_cast<unsigned char>(mark)] = true;
    return marks;
}();

}  // namespace

std::optional<ScpiNumber> read_scpi_number(std::string_view text) {
    const std::string_view whole = trimmed(text);
    std::string_view rest = whole;
    const bool negative = take_minus(rest);
    Digits digits;
    take_digits(rest, digits);
    int decimals = 0;
    if (take(rest, '.')) {
        const std::size_t before_point = digits.count;
        take_digits(rest, digits);
        decimals = static_cast<int>(digits.count - before_point);
    }
    if (digits.count == 0 || digits.count > digits_max) return std::nullopt;
    if (take(rest, 'E') || take(rest, 'e')) {
        const bool down = take_minus(rest);
        Digits exponent;
        take_digits(rest, exponent);
        if (exponent.count == 0 || exponent.count > exponent_digits_max) return std::nullopt;
        const int shift = static_cast<int>(exponent.value);
        decimals += down ? shift : -shift;
    }
    if (!rest.empty()) return std::nullopt;
    double value = 0;
    if (digits.exact && std::abs(decimals) <= exact_power) {
        const auto shown = static_cast<double>(digits.value);
        const double size =
            decimals >= 0 ? shown / powers_of_ten[decimals] : shown * powers_of_ten[-decimals];
        value = negative ? -size : size;
    } else {
        const std::string_view unsigned_or_minus = whole.front() == '+' ? whole.substr(1) : whole;
        const char* const end = whole.data() + whole.size();
        const auto read = std::from_chars(unsigned_or_minus.data(), end, value);
        if (read.ec != std::errc() || read.ptr != end) return std::nullopt;
    }
    const auto kind = value == not_a_number_value         ? ScpiNumber::Kind::not_a_number
                      : std::abs(value) == infinity_value ? ScpiNumber::Kind::infinite
                                                          : ScpiNumber::Kind::value;
    return ScpiNumber{kind, value, decimals};
}

ScpiElements split_scpi(std::string_view line) {
    ScpiElements elements;
    // Made in place: a copy would wait for its two halves to be written.
    const auto add = [&](std::string_view element) {
        const std::string_view text = trimmed(element);
        elements.emplace_back(text.data(), text.size());
    };
    std::size_t begin = 0;
    for (std::size_t at = 0; at < line.size(); ++at) {
        const char mark = line[at];
        if (!parting[static_cast<unsigned char>(mark)]) continue;
        if (mark == ',') {
            add(line.substr(begin, at - begin));
            begin = at + 1;
        } else {
            at = std::min(line.find(mark, at + 1), line.size());
        }
    }
    add(line.substr(begin));
    return elements;
}

std::optional<ScpiError> read_scpi_error(std::string_view line) {
    const ScpiElements elements = split_scpi(line);
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
