#include "calib/statistics/serial_correlation.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

using namespace tipwright::calib;

namespace {

std::vector<double> neighbours(double r, int n, std::mt19937_64& generator) {
    std::normal_distribution<double> normal;
    std::vector<double> values;
    double before = normal(generator);
    for (int k = 0; k < n; ++k) {
        before = r * before + std::sqrt(1 - r * r) * normal(generator);
        values.push_back(before);
    }
    return values;
}

}  // namespace

TEST_CASE("von Neumann's ratio by hand") {
    // Differences 1, -2, 1: squares 6; mean 0, squares 2.
    const double values[] = {0, 1, -1, 0};
    CHECK(von_neumann_ratio(values) == Approx(6.0 / 2.0));
    const double alike[] = {3, 3, 3, 3, 3};
    CHECK(von_neumann_ratio(alike) == 2);
    CHECK(von_neumann_ratio({}) == 2);
}

// Truth: the correlation the values were made with. Mersenne twister, seed 4.
TEST_CASE("the correlation of neighbours is found without bias, and the mean's scatter follows from it") {
    std::mt19937_64 generator(4);
    for (const double r : {0.0, 0.3, 0.6})
        for (const int n : {20, 100}) {
            constexpr int trials = 4000;
            double sum = 0;
            double of_means = 0;
            for (int i = 0; i < trials; ++i) {
                const auto values = neighbours(r, n, generator);
                sum += neighbour_correlation(values);
                double mean = 0;
                for (const double x : values) mean += x / n;
                of_means += mean * mean / trials;
            }
            INFO(r << ", " << n);
            // One standard deviation of the average is below 0.004. What bias is left is of the second order in
            // 1/n: -0.034 for 0.6 of 20 values, seen here, less for smaller ones.
            CHECK(sum / trials == Approx(r).margin(n == 20 ? 0.04 : 0.01));
            if (n == 100)
                CHECK(std::sqrt(of_means * n) == Approx(widening_by_dependence(r, 1e9)).epsilon(0.04));
        }
}

TEST_CASE("independent values are widened one time in ten, few values never") {
    std::mt19937_64 generator(5);
    int widened = 0;
    for (int i = 0; i < 4000; ++i)
        widened +=
            widening_by_dependence(neighbour_correlation(neighbours(0, 60, generator)), 60) > 1 ? 1 : 0;
    CHECK(widened == Approx(400).margin(100));
    CHECK(widening_by_dependence(0.9, 7) == 1);
    CHECK(widening_by_dependence(-0.5, 100) == 1);
    CHECK(widening_by_dependence(std::nan(""), 100) == 1);
    CHECK(widening_by_dependence(0.3, 200) == Approx(std::sqrt(1.3 / 0.7)));
}
