// A number as the unevaluated sum of two doubles, about 106 bits; + - * / and square root of such.
// Source: Dekker, Numer. Math. 18 (1971) 224 (product, division); Knuth, TAOCP 2, 4.2.2 (sum). Domain:
// magnitudes from 1e-140 to 1e290, beyond which the splitting of a factor overflows or the low part is lost.
// Relative error: a few 2^-104. Needs unfused IEEE arithmetic (-ffp-contract=off).
#pragma once

#include <cmath>

namespace tipwright::calib {

struct DoublePair {
    double high = 0;
    double low = 0;

    constexpr double rounded() const { return high + low; }
};

// a + b exactly; |a| >= |b|.
constexpr DoublePair quick_sum(double a, double b) {
    const double sum = a + b;
    return {sum, b - (sum - a)};
}

// a + b exactly.
constexpr DoublePair exact_sum(double a, double b) {
    const double sum = a + b;
    const double part = sum - a;
    return {sum, (a - (sum - part)) + (b - part)};
}

// a * b exactly.
constexpr DoublePair exact_product(double a, double b) {
    constexpr double splitter = 134217729;  // 2^27 + 1
    const double a_times = splitter * a;
    const double a_high = a_times - (a_times - a);
    const double a_low = a - a_high;
    const double b_times = splitter * b;
    const double b_high = b_times - (b_times - b);
    const double b_low = b - b_high;
    const double product = a * b;
    return {product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low};
}

constexpr DoublePair operator+(DoublePair a, DoublePair b) {
    const DoublePair high = exact_sum(a.high, b.high);
    const DoublePair low = exact_sum(a.low, b.low);
    const DoublePair first = quick_sum(high.high, high.low + low.high);
    return quick_sum(first.high, first.low + low.low);
}

constexpr DoublePair operator-(DoublePair a) {
    return {-a.high, -a.low};
}

constexpr DoublePair operator-(DoublePair a, DoublePair b) {
    return a + -b;
}

constexpr DoublePair operator*(DoublePair a, DoublePair b) {
    const DoublePair product = exact_product(a.high, b.high);
    return quick_sum(product.high, product.low + (a.high * b.low + a.low * b.high));
}

constexpr DoublePair operator*(DoublePair a, double b) {
    const DoublePair product = exact_product(a.high, b);
    return quick_sum(product.high, product.low + a.low * b);
}

constexpr DoublePair operator/(DoublePair a, DoublePair b) {
    const double first = a.high / b.high;
    const DoublePair rest = a - b * first;
    const double second = rest.high / b.high;
    const DoublePair rest_2 = rest - b * second;
    return quick_sum(first, second) + DoublePair{rest_2.high / b.high, 0};
}

inline DoublePair square_root(DoublePair a) {
    if (!(a.high > 0)) return {0, 0};
    const double root = std::sqrt(a.high);
    const DoublePair rest = a - exact_product(root, root);
    return quick_sum(root, rest.high / (2 * root));
}

// Exact while nothing underflows.
inline DoublePair times_power_of_2(DoublePair a, int exponent) {
    return {std::ldexp(a.high, exponent), std::ldexp(a.low, exponent)};
}

}  // namespace tipwright::calib
