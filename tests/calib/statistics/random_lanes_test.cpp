#include "calib/statistics/random_lanes.hpp"

#include <algorithm>
#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/input_distribution.hpp"

using namespace tipwright::calib;

namespace {

std::vector<double> draws(const InputDistribution& input, std::size_t blocks, std::uint64_t seed) {
    RandomLanes random(seed, 0, 0);
    std::vector<double> values(blocks * random_block);
    for (std::size_t b = 0; b < blocks; ++b) {
        draw(input, random, std::span(values).subspan(b * random_block, random_block));
    }
    return values;
}

// Largest distance between the distribution of the values and F, times sqrt n. Kolmogorov's distribution:
// beyond 1.95 in one case of a thousand.
template <class Cumulative>
double kolmogorov(std::vector<double> values, Cumulative F) {
    std::sort(values.begin(), values.end());
    const auto n = static_cast<double>(values.size());
    double worst = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double p = F(values[i]);
        worst = std::max({worst, std::fabs(p - static_cast<double>(i) / n),
                          std::fabs(p - static_cast<double>(i + 1) / n)});
    }
    return worst * std::sqrt(n);
}

constexpr double one_in_a_thousand = 1.95;

}  // namespace

// Output of the authors' reference implementation for the state 1, 2, 3, 4 (from memory).
TEST_CASE("xoshiro256++ gives its published sequence in every lane") {
    std::array<std::array<std::uint64_t, 8>, 4> state;
    for (std::size_t word = 0; word < 4; ++word) state[word].fill(word + 1);
    RandomLanes random(state);
    std::array<std::uint64_t, 80> bits;
    random.fill_bits(bits);
    const std::uint64_t expected[] = {41943041ull,
                                      58720359ull,
                                      3588806011781223ull,
                                      3591011842654386ull,
                                      9228616714210784205ull,
                                      9973669472204895162ull,
                                      14011001112246962877ull,
                                      12406186145184390807ull,
                                      15849039046786891736ull,
                                      10450023813501588000ull};
    for (std::size_t i = 0; i < 10; ++i) {
        for (std::size_t lane = 0; lane < 8; ++lane) CHECK(bits[8 * i + lane] == expected[i]);
    }
}

// Output of the reference implementation of SplitMix64 for the seed 1234567 (from memory).
TEST_CASE("SplitMix64 gives its published sequence") {
    constexpr std::uint64_t increment = 0x9E3779B97F4A7C15ull;
    CHECK(mixed(1234567 + increment) == 6457827717110365317ull);
    CHECK(mixed(1234567 + 2 * increment) == 3203168211198807973ull);
    CHECK(mixed(1234567 + 3 * increment) == 9817491932198370423ull);
}

TEST_CASE("normal and t deviates are the exact transforms of their bits") {
    // Of the radius. A large exponent (0.2 degrees of freedom) multiplies the rounding of the logarithm, and
    // pi itself is rounded in this test.
    constexpr double transform_tolerance = 2e-14;
    const auto unit = [](std::uint64_t bits) { return (static_cast<double>(bits >> 12) + 0.5) * 0x1p-52; };
    const auto sign = [](std::uint64_t bits) { return (bits & 1) != 0 ? -1.0 : 1.0; };
    for (std::uint64_t stream = 0; stream < 200; ++stream) {
        std::array<std::uint64_t, random_block> bits;
        RandomLanes(7, stream, 1).fill_bits(bits);
        std::array<double, random_block> normal;
        RandomLanes(7, stream, 1).fill_normal(normal);
        constexpr std::size_t half = random_block / 2;
        for (std::size_t i = 0; i < half; ++i) {
            const double radius = std::sqrt(-2 * std::log(unit(bits[i])));
            const double angle = (unit(bits[half + i]) - 0.5) * std::numbers::pi;
            const double tolerance = transform_tolerance * radius;
            REQUIRE(normal[i] ==
                    Approx(sign(bits[half + i]) * radius * std::cos(angle)).margin(tolerance).epsilon(0));
            REQUIRE(normal[half + i] == Approx(radius * std::sin(angle)).margin(tolerance).epsilon(0));
        }
        for (const double dof : {0.2, 1.0, 4.5, 60.0, 1e6}) {
            RandomLanes both(7, stream, 1);
            std::array<std::uint64_t, random_block> angles;
            both.fill_bits(bits);
            both.fill_bits(angles);
            std::array<double, random_block> t;
            RandomLanes(7, stream, 1).fill_student(t, dof);
            for (std::size_t i = 0; i < random_block; ++i) {
                const double radius = std::sqrt(dof * std::expm1(-2 * std::log(unit(bits[i])) / dof));
                const double angle = (unit(angles[i]) - 0.5) * std::numbers::pi;
                REQUIRE(t[i] == Approx(sign(angles[i]) * radius * std::cos(angle))
                                    .margin(transform_tolerance * radius)
                                    .epsilon(0));
            }
        }
    }
}

// The same bits must come from every compiler and vector width: these were the same with GCC 12 and Clang 14,
// for SSE2 (the sanitized build), AVX2 and AVX-512.
TEST_CASE("deviates are the same to the last bit everywhere") {
    std::array<double, random_block> values;
    RandomLanes(2024, 5, 3).fill_normal(values);
    std::uint64_t digest = 0;
    for (const double value : values) digest = mixed(digest ^ std::bit_cast<std::uint64_t>(value));
    RandomLanes(2024, 5, 3).fill_student(values, 7.5);
    for (const double value : values) digest = mixed(digest ^ std::bit_cast<std::uint64_t>(value));
    CHECK(digest == 0x4280a0851cdfee8full);
}

TEST_CASE("draws follow their distributions") {
    constexpr std::size_t blocks = 2000;  // half a million draws
    CHECK(kolmogorov(draws(normal_input(3, 2), blocks, 1),
                     [](double x) { return normal_cumulative((x - 3) / 2); }) < one_in_a_thousand);
    CHECK(kolmogorov(draws(rectangular_input(-1, 4), blocks, 2), [](double x) { return (x + 5) / 8; }) <
          one_in_a_thousand);
    for (const double dof : {0.5, 1.0, 3.0, 9.0, 50.0}) {
        CAPTURE(dof);
        CHECK(kolmogorov(draws(student_input(1, 0.5, dof), blocks, 3), [&](double x) {
                  return student_cumulative((x - 1) / 0.5, dof);
              }) < one_in_a_thousand);
    }
    const auto triangular = [](double x) {
        return x < 0 ? (x + 1) * (x + 1) / 2 : 1 - (1 - x) * (1 - x) / 2;
    };
    CHECK(kolmogorov(draws(triangular_input(0, 1), blocks, 4), triangular) < one_in_a_thousand);
}

TEST_CASE("standard deviations of the draws are the stated ones") {
    constexpr std::size_t blocks = 4000;
    for (const InputDistribution& input : {normal_input(1, 0.3), rectangular_input(1, 0.3),
                                           triangular_input(1, 0.3), student_input(1, 0.3, 12)}) {
        const auto values = draws(input, blocks, 11);
        double sum = 0;
        double square = 0;
        for (const double value : values) {
            sum += value - 1;
            square += (value - 1) * (value - 1);
        }
        const auto n = static_cast<double>(values.size());
        CAPTURE(static_cast<int>(input.shape));
        CHECK(sum / n == Approx(0).margin(4 * input.standard_deviation() / std::sqrt(n)));
        CHECK(std::sqrt(square / n) == Approx(input.standard_deviation()).epsilon(0.004));
    }
    CHECK(student_input(0, 1, 2).standard_deviation() == std::numeric_limits<double>::infinity());
    CHECK(student_input(0, 1, std::numeric_limits<double>::infinity()).shape == InputShape::normal);
}

TEST_CASE("streams share nothing") {
    constexpr std::size_t blocks = 400;
    const auto correlation = [&](RandomLanes a, RandomLanes b) {
        std::array<double, random_block> x;
        std::array<double, random_block> y;
        double sum = 0;
        for (std::size_t i = 0; i < blocks; ++i) {
            a.fill_normal(x);
            b.fill_normal(y);
            for (std::size_t k = 0; k < random_block; ++k) sum += x[k] * y[k];
        }
        return sum / static_cast<double>(blocks * random_block);
    };
    const double limit = 4 / std::sqrt(static_cast<double>(blocks * random_block));
    CHECK(std::fabs(correlation({1, 0, 0}, {1, 0, 1})) < limit);
    CHECK(std::fabs(correlation({1, 0, 0}, {1, 1, 0})) < limit);
    CHECK(std::fabs(correlation({1, 0, 1}, {1, 1, 0})) < limit);
    CHECK(std::fabs(correlation({1, 0, 0}, {2, 0, 0})) < limit);
}
