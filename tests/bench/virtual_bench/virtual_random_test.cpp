#include "bench/virtual_bench/random.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <catch2/catch.hpp>

#include "bench/virtual_bench/portable_math.hpp"

using namespace tipwright::bench;

TEST_CASE("xoshiro256++ and splitmix64 give their known first numbers") {
    // From memory: outputs of the authors' C code from state {1, 2, 3, 4} and from seed 1234567.
    Random dice(std::array<std::uint64_t, 4>{1, 2, 3, 4});
    CHECK(dice.next() == 41943041U);
    CHECK(dice.next() == 58720359U);
    CHECK(dice.next() == 3588806011781223U);
    CHECK(dice.next() == 3591011842654386U);
    std::uint64_t state = 1234567;
    CHECK(splitmix64(state) == 6457827717110365317U);
    CHECK(splitmix64(state) == 3203168211198807973U);
    CHECK(splitmix64(state) == 9817491932198370423U);
}

TEST_CASE("own exponential and logarithm agree with the library's") {
    // A few rounding errors of double precision.
    constexpr double tolerance = 6e-16;
    for (double x = -690; x <= 690; x += 0.731) {
        CHECK(std::abs(portable_exp(x) / std::exp(x) - 1) < tolerance);
    }
    for (double x = 1e-300; x < 1e300; x *= 7.3) {
        CHECK(std::abs(portable_log(x) - std::log(x)) <= tolerance * std::abs(std::log(x)));
    }
    CHECK(portable_log(1.0) == 0.0);
    CHECK(portable_exp(-1e4) == 0.0);
}

TEST_CASE("inverse normal agrees with Boost.Math") {
    // AS 241 states 1e-16 relative; both sides round.
    constexpr double tolerance = 2e-15;
    const boost::math::normal normal;
    std::vector<double> probabilities = {1e-300, 1e-100, 1e-20, 1e-12, 1e-6, 1e-3, 0.02, 0.0749, 0.0751};
    for (double p = 0.1; p < 0.95; p += 0.0731) probabilities.push_back(p);
    for (const double p : probabilities) {
        const double expected = boost::math::quantile(normal, p);
        CHECK(std::abs(normal_inverse(p) - expected) <= tolerance * std::max(1.0, std::abs(expected)));
    }
    CHECK(normal_inverse(0.975) == Approx(1.959963984540054).epsilon(1e-14));
}

TEST_CASE("streams of one seed and seeds of one stream differ, the same ones repeat") {
    Random a(7, 1);
    Random same(7, 1);
    Random other_stream(7, 2);
    Random other_seed(8, 1);
    int equal_stream = 0;
    int equal_seed = 0;
    for (int i = 0; i < 1000; ++i) {
        const std::uint64_t x = a.next();
        REQUIRE(x == same.next());
        equal_stream += x == other_stream.next() ? 1 : 0;
        equal_seed += x == other_seed.next() ? 1 : 0;
    }
    CHECK(equal_stream == 0);
    CHECK(equal_seed == 0);
}

namespace {

// Largest distance between the sample's and the given distribution function, times sqrt n
// (Kolmogorov-Smirnov; beyond 1.95 in one case in a thousand).
template <class Distribution>
double ks_distance(std::vector<double> sample, const Distribution& distribution) {
    std::sort(sample.begin(), sample.end());
    const auto n = static_cast<double>(sample.size());
    double largest = 0;
    for (std::size_t i = 0; i < sample.size(); ++i) {
        const double p = cdf(distribution, sample[i]);
        largest = std::max({largest, p - static_cast<double>(i) / n, static_cast<double>(i + 1) / n - p});
    }
    return largest * std::sqrt(n);
}

}  // namespace

TEST_CASE("normal and Student draws follow their distributions") {
    constexpr double limit = 1.95;
    Random dice(42);
    std::vector<double> normals;
    std::vector<double> students;
    for (int i = 0; i < 20000; ++i) normals.push_back(dice.normal());
    for (int i = 0; i < 20000; ++i) students.push_back(dice.student(4));
    CHECK(ks_distance(normals, boost::math::normal()) < limit);
    CHECK(ks_distance(students, boost::math::students_t(4)) < limit);
}
