#include "bench/instruments/decimal.hpp"

#include <charconv>

namespace tipwright::bench {

namespace {

constexpr int most_digits = 15;
constexpr std::uint64_t too_many_digits = 1'000'000'000'000'000;
// Exact in a double, so that one division rounds correctly.
constexpr double powers_of_ten[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

}  // namespace

bool scan_decimal(std::string_view text, char decimal_sign, Decimal& number) {
    std::size_t at = 0;
    bool negative = false;
    if (at < text.size() && (text[at] == '+' || text[at] == '-')) {
        negative = text[at] == '-';
        ++at;
        while (at < text.size() && text[at] == ' ') ++at;
    }
    std::uint64_t digits = 0;
    int written = 0;
    int decimals = 0;
    auto take_digits = [&] {
        for (; at < text.size(); ++at, ++written) {
            const auto digit = static_cast<unsigned>(text[at] - '0');
            if (digit > 9) break;
            digits = digits * 10 + digit;
            if (digits >= too_many_digits) return false;
        }
        return true;
    };
    if (!take_digits()) return false;
    if (at < text.size() && text[at] == decimal_sign) {
        const int before = written;
        ++at;
        if (!take_digits()) return false;
        decimals = written - before;
    }
    if (written == 0 || decimals > most_digits) return false;
    // From the magnitude, so that a shown "-0.00" keeps its sign.
    const double magnitude = scaled(static_cast<std::int64_t>(digits), decimals);
    const auto whole = static_cast<std::int64_t>(digits);
    number.value = negative ? -magnitude : magnitude;
    number.digits = negative ? -whole : whole;
    number.decimals = decimals;
    number.length = at;
    return true;
}

double scaled(std::int64_t digits, int decimals) {
    const auto whole = static_cast<double>(digits);
    return decimals >= 0 ? whole / powers_of_ten[decimals] : whole * powers_of_ten[-decimals];
}

std::string decimal_text(double value, int decimals) {
    char buffer[400];
    const auto end =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals).ptr;
    std::string text(buffer, end);
    if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
    return text;
}

}  // namespace tipwright::bench
