#include "calib/statistics/random_lanes.hpp"

#include <bit>
#include <cmath>
#include <cstring>
#include <numbers>

#include "calib/base/wide.hpp"

namespace tipwright::calib {

namespace {

constexpr std::uint64_t mantissa = 0x000FFFFFFFFFFFFFull;
constexpr std::uint64_t one_bits = 0x3FF0000000000000ull;
constexpr std::uint64_t sqrt_half_bits = 0x3FE6A09E667F3BCDull;
// SplitMix64's increment.
constexpr std::uint64_t golden = 0x9E3779B97F4A7C15ull;

// All lanes in one vector; narrower registers take a part each.
constexpr std::size_t width = RandomLanes::lanes;
using Vector = std::uint64_t __attribute__((vector_size(width * sizeof(std::uint64_t))));
constexpr std::size_t vectors = RandomLanes::lanes / width;

TIPWRIGHT_WIDE void fill(std::uint64_t* state, std::uint64_t* __restrict out, std::size_t count) {
    Vector s0[vectors];
    Vector s1[vectors];
    Vector s2[vectors];
    Vector s3[vectors];
    constexpr std::size_t row = RandomLanes::lanes;
    std::memcpy(s0, state, sizeof s0);
    std::memcpy(s1, state + row, sizeof s1);
    std::memcpy(s2, state + 2 * row, sizeof s2);
    std::memcpy(s3, state + 3 * row, sizeof s3);
    for (std::size_t i = 0; i < count; i += row) {
        for (std::size_t l = 0; l < vectors; ++l) {
            const Vector sum = s0[l] + s3[l];
            const Vector result = ((sum << 23) | (sum >> 41)) + s0[l];
            std::memcpy(out + i + l * width, &result, sizeof result);
            const Vector shifted = s1[l] << 17;
            s2[l] ^= s0[l];
            s3[l] ^= s1[l];
            s1[l] ^= s2[l];
            s0[l] ^= s3[l];
            s2[l] ^= shifted;
            s3[l] = (s3[l] << 45) | (s3[l] >> 19);
        }
    }
    std::memcpy(state, s0, sizeof s0);
    std::memcpy(state + row, s1, sizeof s1);
    std::memcpy(state + 2 * row, s2, sizeof s2);
    std::memcpy(state + 3 * row, s3, sizeof s3);
}

inline double as_double(std::uint64_t bits) {
    return std::bit_cast<double>(bits);
}
inline std::uint64_t as_bits(double value) {
    return std::bit_cast<std::uint64_t>(value);
}

// 52 bits to the middle of one of 2^52 equal cells of (0, 1).
inline double unit(std::uint64_t bits) {
    return as_double((bits >> 12) | one_bits) - (1 - 0x1p-53);
}

TIPWRIGHT_WIDE void to_uniform(const std::uint64_t* __restrict bits, double* __restrict out,
                               std::size_t count, double offset, double factor) {
    for (std::size_t i = 0; i < count; ++i) out[i] = offset + factor * unit(bits[i]);
}

// -2 ln u for u in (0, 1): exponent and mantissa m in [sqrt(1/2), sqrt 2), then ln m = 2 artanh((m - 1)/(m +
// 1)) by its series, |argument| <= 0.1716; the first term left out is below 1e-16 of the sum.
inline double minus_two_log(double u) {
    const std::uint64_t shifted = as_bits(u) + (one_bits - sqrt_half_bits);
    const double exponent = as_double((shifted >> 52) + 0x4330000000000000ull) - (0x1p52 + 1023);
    const double m = as_double((shifted & mantissa) + sqrt_half_bits);
    const double s = (m - 1) / (m + 1);
    const double w = s * s;
    double series = 1.0 / 19;
    series = series * w + 1.0 / 17;
    series = series * w + 1.0 / 15;
    series = series * w + 1.0 / 13;
    series = series * w + 1.0 / 11;
    series = series * w + 1.0 / 9;
    series = series * w + 1.0 / 7;
    series = series * w + 1.0 / 5;
    series = series * w + 1.0 / 3;
    return -2 * (exponent * std::numbers::ln2 + 2 * (s + s * w * series));
}

// Sine and cosine of an angle within +-pi/4 by Taylor's series, eight terms each.
struct SineCosine {
    double sine;
    double cosine;
};

inline SineCosine sine_cosine(double a) {
    const double q = a * a;
    double sine = -1 / 1307674368000.0;
    sine = sine * q + 1 / 6227020800.0;
    sine = sine * q - 1 / 39916800.0;
    sine = sine * q + 1 / 362880.0;
    sine = sine * q - 1 / 5040.0;
    sine = sine * q + 1 / 120.0;
    sine = sine * q - 1 / 6.0;
    double cosine = 1 / 20922789888000.0;
    cosine = cosine * q - 1 / 87178291200.0;
    cosine = cosine * q + 1 / 479001600.0;
    cosine = cosine * q - 1 / 3628800.0;
    cosine = cosine * q + 1 / 40320.0;
    cosine = cosine * q - 1 / 720.0;
    cosine = cosine * q + 1 / 24.0;
    cosine = cosine * q - 0.5;
    return {a + a * q * sine, 1 + q * cosine};
}

// exp(y) - 1 for 0 <= y < 700: y = k ln 2 + r, |r| <= ln 2 / 2, and Taylor's series in r.
inline double exp_minus_one(double y) {
    constexpr double magic = 0x1.8p52;
    const double shifted = y * std::numbers::log2e + magic;
    const double k = shifted - magic;
    // ln 2 in two parts, so that k ln 2 is exact.
    const double r = (y - k * 0x1.62e42fefap-1) - k * 0x1.cf79abc9e3b3ap-40;
    double series = 1 / 6227020800.0;
    series = series * r + 1 / 479001600.0;
    series = series * r + 1 / 39916800.0;
    series = series * r + 1 / 3628800.0;
    series = series * r + 1 / 362880.0;
    series = series * r + 1 / 40320.0;
    series = series * r + 1 / 5040.0;
    series = series * r + 1 / 720.0;
    series = series * r + 1 / 120.0;
    series = series * r + 1 / 24.0;
    series = series * r + 1 / 6.0;
    series = series * r + 0.5;
    const double small = r + r * r * series;
    const double power = as_double((as_bits(shifted) << 52) + one_bits);  // 2^k
    return power * small + (power - 1);
}

// Pairs: the first half of the block gives radii, the second half angles. The angle is twice one drawn
// from +-pi/4; a spare bit chooses the half plane.
TIPWRIGHT_WIDE void to_normal(const std::uint64_t* __restrict bits, double* __restrict out, std::size_t count,
                              double offset, double factor) {
    const std::size_t half = count / 2;
    const std::uint64_t* __restrict second = bits + half;
    double* __restrict out_second = out + half;
    for (std::size_t i = 0; i < half; ++i) {
        const double radius = factor * std::sqrt(minus_two_log(unit(bits[i])));
        const SineCosine part = sine_cosine((unit(second[i]) - 0.5) * (std::numbers::pi / 2));
        const double cosine_twice = 1 - 2 * part.sine * part.sine;
        out[i] = offset + radius * as_double(as_bits(cosine_twice) ^ (second[i] << 63));
        out_second[i] = offset + radius * (2 * part.sine * part.cosine);
    }
}

// t = sqrt(nu (u^(-2/nu) - 1)) cos(2 pi w). Sine and cosine of one pair are not independent: one is used.
TIPWRIGHT_WIDE void to_student(const std::uint64_t* __restrict radii, const std::uint64_t* __restrict angles,
                               double* __restrict out, std::size_t count, double dof, double offset,
                               double factor) {
    const double inverse_dof = 1 / dof;
    for (std::size_t i = 0; i < count; ++i) {
        const double radius = std::sqrt(dof * exp_minus_one(minus_two_log(unit(radii[i])) * inverse_dof));
        const SineCosine part = sine_cosine((unit(angles[i]) - 0.5) * (std::numbers::pi / 2));
        const double cosine_twice = 1 - 2 * part.sine * part.sine;
        out[i] = offset + factor * (radius * as_double(as_bits(cosine_twice) ^ (angles[i] << 63)));
    }
}

}  // namespace

std::uint64_t mixed(std::uint64_t value) {
    value = (value ^ (value >> 30)) * 0xBF58476D1CE4E5B9ull;
    value = (value ^ (value >> 27)) * 0x94D049BB133111EBull;
    return value ^ (value >> 31);
}

RandomLanes::RandomLanes(std::uint64_t seed, std::uint64_t stream, std::uint64_t substream) {
    // Each number is mixed before the next is added, so that neighbouring streams share nothing.
    std::uint64_t counter = mixed(mixed(mixed(seed + golden) + stream + golden) + substream + golden);
    for (auto& word : state_) {
        for (auto& lane : word) {
            counter += golden;
            lane = mixed(counter);
        }
    }
}

void RandomLanes::fill_bits(std::span<std::uint64_t> out) {
    fill(state_.front().data(), out.data(), out.size());
}

void RandomLanes::fill_uniform(std::span<double> out, double offset, double factor) {
    alignas(64) std::array<std::uint64_t, random_block> bits;
    fill_bits(std::span(bits).first(out.size()));
    to_uniform(bits.data(), out.data(), out.size(), offset, factor);
}

void RandomLanes::fill_normal(std::span<double> out, double offset, double factor) {
    alignas(64) std::array<std::uint64_t, random_block> bits;
    fill_bits(std::span(bits).first(out.size()));
    to_normal(bits.data(), out.data(), out.size(), offset, factor);
}

void RandomLanes::fill_student(std::span<double> out, double dof, double offset, double factor) {
    alignas(64) std::array<std::uint64_t, random_block> radii;
    alignas(64) std::array<std::uint64_t, random_block> angles;
    fill_bits(std::span(radii).first(out.size()));
    fill_bits(std::span(angles).first(out.size()));
    to_student(radii.data(), angles.data(), out.data(), out.size(), dof, offset, factor);
}

}  // namespace tipwright::calib
