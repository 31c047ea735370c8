#include "calib/statistics/coverage_interval.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace tipwright::calib;

namespace {

// Clause 7.7 by the book: sort everything, look at every pair.
CoverageIntervals by_the_book(std::vector<double> values, double coverage) {
    std::sort(values.begin(), values.end());
    const std::size_t M = values.size();
    const auto q = std::min(static_cast<std::size_t>(coverage * static_cast<double>(M) + 0.5), M - 1);
    CoverageIntervals result;
    const std::size_t r = (M - q) % 2 == 0 ? (M - q) / 2 : (M - q + 1) / 2;
    result.symmetric = {values[r - 1], values[r - 1 + q]};
    result.shortest = result.symmetric;
    for (std::size_t i = 0; i + q < M; ++i) {
        if (values[i + q] - values[i] < result.shortest.high - result.shortest.low) {
            result.shortest = {values[i], values[i + q]};
        }
    }
    return result;
}

}  // namespace

TEST_CASE("intervals from tails are those of the sorted values") {
    std::mt19937_64 random(5);
    std::normal_distribution<double> normal(10, 2);
    std::cauchy_distribution<double> cauchy(0, 1);
    std::lognormal_distribution<double> skew(0, 1);
    std::uniform_int_distribution<int> few(0, 5);
    for (const std::size_t n : {1, 2, 19, 20, 21, 500, 1023, 1024, 5000, 10007, 60000}) {
        for (const double coverage : {0.5, 0.9, 0.95, 0.99}) {
            for (int kind = 0; kind < 5; ++kind) {
                std::vector<double> values(n);
                for (double& value : values) {
                    value = kind == 0   ? normal(random)
                            : kind == 1 ? cauchy(random)
                            : kind == 2 ? skew(random)
                            : kind == 3 ? few(random)
                                        : 7.5;
                }
                if (kind == 1)
                    std::sort(values.begin(), values.end());  // a sample taken in steps then misleads
                const CoverageIntervals expected = by_the_book(values, coverage);
                const CoverageIntervals found = coverage_intervals(values, coverage);
                CAPTURE(n, coverage, kind);
                REQUIRE(found.symmetric.low == expected.symmetric.low);
                REQUIRE(found.symmetric.high == expected.symmetric.high);
                REQUIRE(found.shortest.low == expected.shortest.low);
                REQUIRE(found.shortest.high == expected.shortest.high);
            }
        }
    }
}

TEST_CASE("tails with limits that are too narrow are still whole") {
    std::mt19937_64 random(6);
    std::normal_distribution<double> normal;
    std::vector<double> values(10000);
    for (double& value : values) value = normal(random);
    for (const double limit : {0.5, 1.5, 3.0}) {
        const Tails tails = tails_of(values, 500, -limit, limit);
        CAPTURE(limit);
        CHECK(tails.low.size() >= 500);
        CHECK(tails.high.size() >= 500);
        const auto below =
            std::count_if(values.begin(), values.end(), [&](double v) { return v <= tails.low_limit; });
        CHECK(static_cast<std::size_t>(below) == tails.low.size());
        std::vector<double> low = tails.low;
        std::vector<double> high = tails.high;
        const Interval interval = symmetric_interval(low, high, 500);
        CHECK(interval.low == by_the_book(values, 0.95).symmetric.low);
        CHECK(interval.high == by_the_book(values, 0.95).symmetric.high);
    }
}
