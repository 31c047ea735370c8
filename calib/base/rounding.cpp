#include "calib/base/rounding.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace tipwright::calib {

namespace {

// |value| = 0.d1 d2 d3 ... x 10^point, the shortest digits that read back as the same double. Rounding
// these, not the binary value behind them, makes 2.675 with two decimals 2.68 as a reader expects.
struct Decimal {
    std::string digits;
    int point = 0;
};

Decimal shortest_decimal(double value) {
    char text[40];
    const auto end =
        std::to_chars(text, text + sizeof text, std::fabs(value), std::chars_format::scientific).ptr;
    const std::string scientific(text, end);
    const std::size_t e = scientific.find('e');
    Decimal decimal;
    for (const char c : scientific.substr(0, e)) {
        if (c != '.') decimal.digits += c;
    }
    decimal.point = std::stoi(scientific.substr(e + 1)) + 1;
    return decimal;
}

// Keeps the first `keep` digits; half or more goes up, so away from zero.
void round_to(Decimal& decimal, int keep, bool always_up = false) {
    if (keep < 0) {
        decimal = {"0", 1};
        return;
    }
    const auto count = static_cast<std::size_t>(keep);
    if (count >= decimal.digits.size()) return;
    const bool up = always_up ? decimal.digits.find_first_not_of('0', count) != std::string::npos
                              : decimal.digits[count] >= '5';
    decimal.digits.resize(count);
    if (!up) return;
    std::size_t i = count;
    while (i > 0 && decimal.digits[i - 1] == '9') decimal.digits[--i] = '0';
    if (i > 0) {
        ++decimal.digits[i - 1];
    } else {
        decimal.digits.insert(0, 1, '1');
        ++decimal.point;
    }
}

double value_of(const Decimal& decimal) {
    const std::string text = "0." + decimal.digits + "e" + std::to_string(decimal.point);
    double value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

std::string text_of(const Decimal& decimal, int decimals, bool negative) {
    // Digit at the place 10^place.
    const auto digit = [&](int place) {
        const int index = decimal.point - 1 - place;
        return index >= 0 && index < static_cast<int>(decimal.digits.size())
                   ? decimal.digits[static_cast<std::size_t>(index)]
                   : '0';
    };
    std::string text;
    for (int place = decimal.point > 0 ? decimal.point - 1 : 0; place >= 0; --place) text += digit(place);
    if (const std::size_t first = text.find_first_not_of('0'); first != std::string::npos) {
        text.erase(0, first);
    } else {
        text.assign(1, '0');
    }
    if (decimals > 0) text += '.';
    for (int place = -1; place >= -decimals; --place) text += digit(place);
    const bool zero = text.find_first_of("123456789") == std::string::npos;
    return negative && !zero ? "-" + text : text;
}

struct RoundedUncertainty {
    Decimal decimal;
    int decimals = 0;
};

// To so many decimals. ILAC-P14:09/2020: ordinary rounding, but up where rounding down would take away more
// than 5 %.
Decimal rounded_at(const Decimal& exact, int decimals, double expanded_uncertainty) {
    Decimal rounded = exact;
    round_to(rounded, exact.point + decimals);
    if (value_of(rounded) >= 0.95 * expanded_uncertainty) return rounded;
    // All of it lies beyond the last place: one unit of that.
    if (exact.point + decimals < 0) return {"1", 1 - decimals};
    rounded = exact;
    round_to(rounded, exact.point + decimals, true);
    return rounded;
}

RoundedUncertainty round_uncertainty(double expanded_uncertainty, int figures) {
    const Decimal exact = shortest_decimal(expanded_uncertainty);
    const Decimal rounded = rounded_at(exact, figures - exact.point, expanded_uncertainty);
    // 0.0996 becomes 0.10, not 0.100: the place follows the rounded number.
    return {rounded, figures - rounded.point};
}

bool roundable(double expanded_uncertainty) {
    return expanded_uncertainty > 0 && std::isfinite(expanded_uncertainty);
}

}  // namespace

std::string fixed(double value, int decimals) {
    if (!std::isfinite(value)) return std::isnan(value) ? "nan" : (value < 0 ? "-inf" : "inf");
    Decimal decimal = shortest_decimal(value);
    round_to(decimal, decimal.point + decimals);
    return text_of(decimal, decimals, value < 0);
}

int decimals_earned(double expanded_uncertainty, int figures) {
    if (!roundable(expanded_uncertainty)) return decimals_without_uncertainty;
    return round_uncertainty(expanded_uncertainty, figures).decimals;
}

int decimals_of_column(std::span<const double> expanded_uncertainties) {
    double largest = 0;
    double smallest = 0;
    for (const double U : expanded_uncertainties) {
        if (!roundable(U)) continue;
        largest = std::max(largest, U);
        smallest = smallest > 0 ? std::min(smallest, U) : U;
    }
    if (!(largest > 0)) return decimals_without_uncertainty;
    return std::max(decimals_earned(largest), decimals_earned(smallest, 1));
}

RoundedPair round_to_decimals(double value, double expanded_uncertainty, int decimals) {
    if (!roundable(expanded_uncertainty))
        return {fixed(value, decimals), fixed(expanded_uncertainty, decimals), decimals};
    const Decimal rounded =
        rounded_at(shortest_decimal(expanded_uncertainty), decimals, expanded_uncertainty);
    return {fixed(value, decimals), text_of(rounded, decimals, false), decimals};
}

RoundedPair round_with_uncertainty(double value, double expanded_uncertainty, int figures) {
    if (!roundable(expanded_uncertainty)) {
        const int decimals = decimals_without_uncertainty;
        return {fixed(value, decimals), fixed(expanded_uncertainty, decimals), decimals};
    }
    const RoundedUncertainty rounded = round_uncertainty(expanded_uncertainty, figures);
    return {fixed(value, rounded.decimals), text_of(rounded.decimal, rounded.decimals, false),
            rounded.decimals};
}

}  // namespace tipwright::calib
