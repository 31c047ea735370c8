#include "calib/base/portable_math.hpp"

#include <array>
#include <limits>

#include "calib/base/double_pair.hpp"

namespace tipwright::calib::portable {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

// The constants to 106 bits and more, from 120 decimal digits.
constexpr DoublePair ln2 = {0x1.62e42fefa39efp-1, 0x1.abc9e3b39803fp-56};
constexpr double ln2_third = 0x1.7b57a079a1934p-111;
constexpr DoublePair inverse_ln2 = {0x1.71547652b82fep+0, 0x1.777d0ffda0d24p-56};
constexpr DoublePair ln10 = {0x1.26bb1bbb55516p+1, -0x1.f48ad494ea3e9p-53};
constexpr DoublePair inverse_ln10 = {0x1.bcb7b1526e50ep-2, 0x1.95355baaafad3p-57};
constexpr DoublePair half_pi = {0x1.921fb54442d18p+0, 0x1.1a62633145c07p-54};
constexpr double half_pi_third = -0x1.f1976b7ed8fbcp-110;
constexpr DoublePair pi = {0x1.921fb54442d18p+1, 0x1.1a62633145c07p-53};

constexpr int factorials = 30;
constexpr std::array<DoublePair, factorials> inverse_factorial = [] {
    std::array<DoublePair, factorials> result{};
    result[0] = {1, 0};
    for (int n = 1; n < factorials; ++n)
        result[static_cast<std::size_t>(n)] =
            result[static_cast<std::size_t>(n - 1)] / DoublePair{static_cast<double>(n), 0};
    return result;
}();

DoublePair pair(double x) {
    return {x, 0};
}

// x = k ln 2 + rest, |rest| <= 0.35.
struct Reduced {
    int k = 0;
    DoublePair rest;
};

Reduced by_ln2(DoublePair x) {
    const double k = std::floor(x.high * inverse_ln2.high + 0.5);
    const DoublePair rest = x - exact_product(k, ln2.high) - exact_product(k, ln2.low) - pair(k * ln2_third);
    return {static_cast<int>(k), rest};
}

// exp(x) - 1 for |x| <= 0.35: Taylor's series of x / 64, then six times (1 + s)^2 - 1 = 2 s + s^2.
DoublePair small_expm1(DoublePair x) {
    constexpr int halvings = 6;
    constexpr std::size_t terms = 12;  // (0.35 / 64)^12 / 13! < 1e-36
    const DoublePair r = times_power_of_2(x, -halvings);
    DoublePair sum = inverse_factorial[terms];
    for (std::size_t n = terms - 1; n >= 1; --n) sum = sum * r + inverse_factorial[n];
    sum = sum * r;
    for (int i = 0; i < halvings; ++i) sum = sum * 2.0 + sum * sum;
    return sum;
}

constexpr double largest_exponent = 709.79;  // exp of more is infinite
constexpr double least_exponent = -745.14;   // of less, zero

double exp_of(DoublePair x) {
    if (x.high > largest_exponent) return infinite;
    if (x.high < least_exponent) return 0;
    const Reduced reduced = by_ln2(x);
    const DoublePair m = pair(1) + small_expm1(reduced.rest);
    // In two steps: 2^1024 itself is no double.
    return std::ldexp(m.rounded() * 0.5, reduced.k + 1);
}

// ln(1 + u) for |u| <= 0.02: 2 atanh(u / (2 + u)).
DoublePair small_log1p(DoublePair u) {
    constexpr int terms = 10;  // 0.0101^20 / 21 < 1e-40
    const DoublePair s = u / (pair(2) + u);
    const DoublePair s2 = s * s;
    DoublePair sum = pair(1) / pair(2 * terms + 1);
    for (int n = terms - 1; n >= 0; --n) sum = sum * s2 + pair(1) / pair(2 * n + 1);
    return (s * sum) * 2.0;
}

constexpr double near_one = 0.02;

// Relative error below 1e-15: what Newton's step starts from. m from 0.7 to 1.42.
double rough_log(double m) {
    const double s = (m - 1) / (m + 1);
    const double s2 = s * s;
    double sum = 0;
    for (int n = 23; n >= 1; n -= 2) sum = sum * s2 + 1.0 / n;
    return 2 * s * sum;
}

// x = high + low positive and finite, low below half a unit of high.
DoublePair log_of(DoublePair x) {
    constexpr double half_root_2 = 0.70710678118654752;
    int exponent = 0;
    if (std::frexp(x.high, &exponent) < half_root_2) --exponent;
    // By halves, since the power itself may be no double.
    const int half = exponent / 2;
    const DoublePair m = times_power_of_2(times_power_of_2(x, -half), half - exponent);
    const DoublePair above = exact_sum(m.high, -1) + pair(m.low);
    DoublePair log_m;
    if (std::fabs(above.high) <= near_one) {
        log_m = small_log1p(above);
    } else {
        const double start = rough_log(m.high);
        const DoublePair change = m * (pair(1) + small_expm1(pair(-start))) - pair(1);
        log_m = pair(start) + change - change * change * 0.5;
    }
    return exact_product(exponent, ln2.high) + (exact_product(exponent, ln2.low) + log_m);
}

// What a logarithm is of arguments that have none.
bool has_log(double x, double& result) {
    if (x > 0 && x < infinite) return true;
    result = x == 0 ? -infinite : (x > 0 ? infinite : no_number);
    return false;
}

struct SinCos {
    DoublePair sin;
    DoublePair cos;
};

// |x| <= 0.8.
SinCos small_sin_cos(DoublePair x) {
    const DoublePair x2 = x * x;
    DoublePair sin = inverse_factorial[29];  // 0.8^31 / 31! < 1e-36
    DoublePair cos = inverse_factorial[28];
    for (std::size_t n = 27; n < factorials; n -= 2) {  // down to 1
        sin = inverse_factorial[n] - sin * x2;
        cos = inverse_factorial[n - 1] - cos * x2;
    }
    return {sin * x, cos};
}

constexpr double most_radians = 1e9;

// The quarter turns are taken off with 160 bits of pi: nowhere nearer to a multiple than 1e-20 within the
// domain.
SinCos sin_cos_of(double x) {
    const double quarters = std::floor(x * (2 / pi.high) + 0.5);
    const DoublePair rest = pair(x) - exact_product(quarters, half_pi.high) -
                            exact_product(quarters, half_pi.low) - pair(quarters * half_pi_third);
    const SinCos small = small_sin_cos(rest);
    switch (static_cast<long>(quarters) & 3) {
        case 1:
            return {small.cos, -small.sin};
        case 2:
            return {-small.sin, -small.cos};
        case 3:
            return {-small.cos, small.sin};
        default:
            return small;
    }
}

// Below this x - x^3/6 and x + x^3/3 round to x.
constexpr double is_own_sine = 0x1p-28;

// atan(y / x) for y >= 0, x >= 0, not both zero.
DoublePair first_quadrant_atan(DoublePair y, DoublePair x) {
    if (y.high > x.high) return half_pi - first_quadrant_atan(x, y);
    const DoublePair t = y / x;
    const DoublePair t2 = t * t;
    if (t.high < 1e-6) return t * (pair(1) - t2 * (pair(1) / pair(3) - t2 * (pair(1) / pair(5))));
    // A start within 1e-4, then Newton's steps, each with the cubic term: 1e-4, 1e-20, 1e-100.
    DoublePair angle =
        pair(t.high *
             (0.9998660 +
              t2.high * (-0.3302995 + t2.high * (0.1801410 + t2.high * (-0.0851330 + t2.high * 0.0208351)))));
    for (int step = 0; step < 2; ++step) {
        const SinCos at = small_sin_cos(angle);
        const DoublePair off = (t * at.cos - at.sin) / (at.cos + t * at.sin);
        angle = angle + off - off * off * off / pair(3);
    }
    return angle;
}

}  // namespace

double exp(double x) {
    return std::isnan(x) ? x : exp_of(pair(x));
}

double exp2(double x) {
    if (std::isnan(x)) return x;
    if (x >= 1024) return infinite;
    if (x < -1075) return 0;
    return exp_of(ln2 * x + pair(x * ln2_third));
}

double exp10(double x) {
    if (std::isnan(x)) return x;
    if (x > 309) return infinite;
    if (x < -324) return 0;
    return exp_of(ln10 * x);
}

double expm1(double x) {
    if (std::isnan(x) || std::fabs(x) < 0x1p-54) return x;
    if (x > largest_exponent) return infinite;
    if (x < -40) return -1;
    const Reduced reduced = by_ln2(pair(x));
    const DoublePair small = small_expm1(reduced.rest);
    if (reduced.k == 0) return small.rounded();
    if (x > 40) return exp_of(pair(x));
    return (times_power_of_2(pair(1) + small, reduced.k) - pair(1)).rounded();
}

double log(double x) {
    double result = 0;
    return has_log(x, result) ? log_of(pair(x)).rounded() : result;
}

double log2(double x) {
    double result = 0;
    return has_log(x, result) ? (log_of(pair(x)) * inverse_ln2).rounded() : result;
}

double log10(double x) {
    double result = 0;
    return has_log(x, result) ? (log_of(pair(x)) * inverse_ln10).rounded() : result;
}

double log1p(double x) {
    if (std::fabs(x) < 0x1p-54) return x;
    if (std::fabs(x) <= near_one) return small_log1p(pair(x)).rounded();
    double result = 0;
    return has_log(1 + x, result) ? log_of(exact_sum(1, x)).rounded() : result;
}

double pow(double x, double y) {
    if (y == 0 || x == 1) return 1;
    if (std::isnan(x) || std::isnan(y)) return no_number;
    if (y == 1) return x;
    if (y == 2) return x * x;
    const bool whole = y == std::floor(y);
    const bool odd = whole && std::fabs(y) < 0x1p53 && std::fmod(y, 2) != 0;
    const double sign = odd && std::signbit(x) ? -1 : 1;
    const double magnitude = std::fabs(x);
    if (std::isinf(y)) return magnitude == 1 ? 1 : ((magnitude > 1) == (y > 0) ? infinite : 0);
    if (magnitude == 0 || std::isinf(x)) return sign * ((magnitude == 0) == (y > 0) ? 0 : infinite);
    if (x < 0 && !whole) return no_number;
    const DoublePair logarithm = log_of(pair(magnitude));
    const double size = logarithm.high * y;
    if (size > largest_exponent + 1) return sign * infinite;
    if (size < least_exponent - 1) return sign * 0.0;
    return sign * exp_of(logarithm * y);
}

double hypot(double x, double y) {
    if (std::isinf(x) || std::isinf(y)) return infinite;
    if (std::isnan(x) || std::isnan(y)) return no_number;
    const double larger = std::fmax(std::fabs(x), std::fabs(y));
    if (larger == 0) return 0;
    int exponent = 0;
    std::frexp(larger, &exponent);
    // By halves, since 2^-exponent of a subnormal is no double.
    const auto scaled = [exponent](double value) {
        return std::ldexp(std::ldexp(value, -exponent / 2), -(exponent - exponent / 2));
    };
    const double a = scaled(x);
    const double b = scaled(y);
    return std::ldexp(square_root(exact_product(a, a) + exact_product(b, b)).rounded(), exponent);
}

double sin(double x) {
    if (std::fabs(x) < is_own_sine) return x;
    return std::fabs(x) <= most_radians ? sin_cos_of(x).sin.rounded() : no_number;
}

double cos(double x) {
    if (std::fabs(x) < is_own_sine) return 1;
    return std::fabs(x) <= most_radians ? sin_cos_of(x).cos.rounded() : no_number;
}

double tan(double x) {
    if (std::fabs(x) < is_own_sine) return x;
    if (!(std::fabs(x) <= most_radians)) return no_number;
    const SinCos both = sin_cos_of(x);
    return (both.sin / both.cos).rounded();
}

double asin(double x) {
    const double size = std::fabs(x);
    if (size < is_own_sine) return x;
    if (!(size <= 1)) return no_number;
    const DoublePair beside = square_root(exact_sum(1, -size) * exact_sum(1, size));
    return std::copysign(first_quadrant_atan(pair(size), beside).rounded(), x);
}

double acos(double x) {
    const double size = std::fabs(x);
    if (!(size <= 1)) return no_number;
    const DoublePair beside = square_root(exact_sum(1, -size) * exact_sum(1, size));
    const DoublePair angle = first_quadrant_atan(beside, pair(size));
    return (x < 0 ? pi - angle : angle).rounded();
}

double atan(double x) {
    const double size = std::fabs(x);
    if (std::isnan(x) || size < is_own_sine) return x;
    if (size > 0x1p100) return std::copysign(half_pi.high, x);
    return std::copysign(first_quadrant_atan(pair(size), pair(1)).rounded(), x);
}

double atan2(double y, double x) {
    if (std::isnan(x) || std::isnan(y)) return no_number;
    double rise = std::fabs(y);
    double run = std::fabs(x);
    DoublePair angle;
    if (std::isinf(rise) || std::isinf(run)) {
        angle = !std::isinf(rise) ? pair(0) : (std::isinf(run) ? times_power_of_2(pi, -2) : half_pi);
    } else if (rise == 0 || run == 0) {
        angle = rise == 0 ? pair(0) : half_pi;
    } else {
        int exponent = 0;
        std::frexp(std::fmax(rise, run), &exponent);
        rise = std::ldexp(rise, -exponent / 2);
        rise = std::ldexp(rise, -(exponent - exponent / 2));
        run = std::ldexp(run, -exponent / 2);
        run = std::ldexp(run, -(exponent - exponent / 2));
        if (rise < 1e-140 && run > 0) return std::signbit(x) ? std::copysign(pi.high, y) : y / x;
        if (run < 1e-140) return std::copysign(half_pi.high, y);
        angle = first_quadrant_atan(pair(rise), pair(run));
    }
    return std::copysign((std::signbit(x) ? pi - angle : angle).rounded(), y);
}

}  // namespace tipwright::calib::portable

// NOLINTBEGIN(bugprone-reserved-identifier): the names that the linker's --wrap asks for.
extern "C" {
namespace portable = tipwright::calib::portable;
double __wrap_exp(double x) {
    return portable::exp(x);
}
double __wrap_exp2(double x) {
    return portable::exp2(x);
}
double __wrap_exp10(double x) {
    return portable::exp10(x);
}
double __wrap_expm1(double x) {
    return portable::expm1(x);
}
double __wrap_log(double x) {
    return portable::log(x);
}
double __wrap_log2(double x) {
    return portable::log2(x);
}
double __wrap_log10(double x) {
    return portable::log10(x);
}
double __wrap_log1p(double x) {
    return portable::log1p(x);
}
double __wrap_pow(double x, double y) {
    return portable::pow(x, y);
}
double __wrap_hypot(double x, double y) {
    return portable::hypot(x, y);
}
double __wrap_sin(double x) {
    return portable::sin(x);
}
double __wrap_cos(double x) {
    return portable::cos(x);
}
void __wrap_sincos(double x, double* sin, double* cos) {
    *sin = portable::sin(x);
    *cos = portable::cos(x);
}
double __wrap_tan(double x) {
    return portable::tan(x);
}
double __wrap_asin(double x) {
    return portable::asin(x);
}
double __wrap_acos(double x) {
    return portable::acos(x);
}
double __wrap_atan(double x) {
    return portable::atan(x);
}
double __wrap_atan2(double y, double x) {
    return portable::atan2(y, x);
}
}
// NOLINTEND(bugprone-reserved-identifier)
