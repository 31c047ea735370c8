// Exponential and logarithm built from + - * / alone. libm may differ in the last bit between machines
// (it picks fused or unfused code by processor); the virtual bench must give the same bytes everywhere, and a
// seed the run it always gave. So these stay beside calib/base/portable_math.hpp, which rounds correctly and
// hence otherwise: of 200 000 arguments 10 % have another exponential and 19 % another logarithm.
// Relative error below 4e-16 for |x| <= 700 (exp), x > 0 normal (log):
// tests/bench/virtual_bench/virtual_random_test.cpp.
#pragma once

#include <cmath>

namespace tipwright::bench {

inline double portable_exp(double x) {
    if (x < -700) return 0;
    constexpr double inverse_ln2 = 1.4426950408889634;
    constexpr double ln2_high = 6.93147180369123816490e-01;  // 33 bits: k * ln2_high is exact
    constexpr double ln2_low = 1.90821492927058770002e-10;
    const double k = std::floor(x * inverse_ln2 + 0.5);
    const double r = (x - k * ln2_high) - k * ln2_low;
    double sum = 1;  // Taylor, |r| <= 0.35: the fourteenth term is below 1e-17
    for (int n = 14; n >= 1; --n) sum = 1 + r / n * sum;
    return std::ldexp(sum, static_cast<int>(k));
}

inline double portable_log(double x) {
    constexpr double ln2_high = 6.93147180369123816490e-01;
    constexpr double ln2_low = 1.90821492927058770002e-10;
    constexpr double half_root_2 = 0.70710678118654752;
    int exponent = 0;
    double m = std::frexp(x, &exponent);
    if (m < half_root_2) {
        m *= 2;
        --exponent;
    }
    const double s = (m - 1) / (m + 1);  // log m = 2 atanh s, |s| <= 0.172
    const double s2 = s * s;
    double sum = 0;
    for (int n = 23; n >= 3; n -= 2) sum = s2 * (1.0 / n + sum);
    return exponent * ln2_high + (exponent * ln2_low + 2 * (s + s * sum));
}

}  // namespace tipwright::bench
