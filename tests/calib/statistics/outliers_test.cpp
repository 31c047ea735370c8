#include "calib/statistics/outliers.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/statistics/distributions.hpp"

using namespace tipwright::calib;

// Rosner, Technometrics 25 (1983) 165-172, the 54 values and the result as printed in the NIST/SEMATECH
// e-Handbook of Statistical Methods, section 1.3.5.17.3 (data from memory): alpha 0.05, at most 10, finds
// 3: 6.01, 5.42, 5.34.
TEST_CASE("the generalised ESD test finds Rosner's three outliers") {
    const std::vector<double> values{-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49,
                                     1.49,  1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91,
                                     1.94,  1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26,
                                     2.35,  2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93,
                                     3.21,  3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01};
    REQUIRE(values.size() == 54);
    const Outliers found = find_outliers(values, 0.05, 10);
    CHECK(found.at == std::vector<std::size_t>{51, 52, 53});
    // Third step of the printed table: R 3.179, lambda 3.144.
    CHECK(found.statistic == Approx(3.179).margin(0.001));
    CHECK(found.threshold == Approx(3.144).margin(0.001));
    // Only the first step, R 3.118 against 3.158: on its own the furthest value does not stand out.
    const Outliers first = find_outliers(values, 0.05, 1);
    CHECK(first.at.empty());
    CHECK(first.statistic == Approx(3.118).margin(0.001));
    CHECK(first.threshold == Approx(3.158).margin(0.001));
}

// What find_outliers leaves out as below every threshold rests on this.
TEST_CASE("the fewer values are left, the smaller the threshold of an outlier") {
    for (const double alpha : {0.2, 0.05, 1e-3, 1e-6, 1e-9}) {
        double before = 0;
        for (int n = 4; n <= 3000; ++n) {
            const double rest = n - 1;
            const double t = student_quantile(1 - alpha / (2 * n), rest - 1);
            const double threshold = rest * t / std::sqrt((rest - 1 + t * t) * n);
            INFO("alpha " << alpha << ", " << n << " values");
            CHECK(threshold > before * (1 - 1e-7));
            before = threshold;
        }
    }
}

// Rosner's procedure as it is printed: every statistic against its own threshold, the last that passes
// counts.
TEST_CASE("outliers are those of the procedure as printed, to the last bit") {
    std::mt19937_64 random(20261130);
    std::normal_distribution<double> ordinary(100, 1);
    for (int trial = 0; trial < 200; ++trial) {
        std::vector<double> values(5 + trial % 90);
        for (double& value : values) value = ordinary(random);
        for (int k = 0; k < trial % 5; ++k) values[random() % values.size()] += 3.5 + trial % 4;
        const double alpha = trial % 2 ? 0.05 : 0.001;
        const std::size_t most = values.size() / 3;
        Outliers printed;
        std::vector<double> left = values;
        for (std::size_t i = 1; i <= most; ++i) {
            double mean = 0;
            for (const double value : left) mean += value;
            mean /= static_cast<double>(left.size());
            double squares = 0;
            for (const double value : left) squares += (value - mean) * (value - mean);
            const double s = std::sqrt(squares / static_cast<double>(left.size() - 1));
            const auto furthest = std::max_element(left.begin(), left.end(), [&](double a, double b) {
                return std::abs(a - mean) < std::abs(b - mean);
            });
            const double statistic = std::abs(*furthest - mean) / s;
            const auto rest = static_cast<double>(values.size() - i);
            const double t = student_quantile(1 - alpha / (2 * (rest + 1)), rest - 1);
            const double threshold = rest * t / std::sqrt((rest - 1 + t * t) * (rest + 1));
            left.erase(furthest);
            if (i == 1 || statistic > threshold) {
                printed.statistic = statistic;
                printed.threshold = threshold;
            }
            if (statistic > threshold) printed.at.assign(i, 0);
        }
        const Outliers found = find_outliers(values, alpha, most);
        CHECK(found.at.size() == printed.at.size());
        CHECK(found.statistic == printed.statistic);
        CHECK(found.threshold == printed.threshold);
    }
}

TEST_CASE("the last outlier looked for is told by a threshold that no hair is added to") {
    // Ten values of which the last is far off; of the nine that are left the second but last lies just beyond
    // the threshold, or just within.
    constexpr double alpha = 0.05, rest = 8;  // n - i of the second step
    const double t = student_quantile(1 - alpha / (2 * (rest + 1)), rest - 1);
    const double lambda = rest * t / std::sqrt((rest - 1 + t * t) * (rest + 1));
    std::vector<double> values{-1.1, 0.9, -0.7, 0.3, 1.2, -0.4, 0.1, -0.3, 0, 1000};
    const auto statistic = [&](double value) {
        values[8] = value;
        double mean = 0, squares = 0;
        for (std::size_t k = 0; k < 9; ++k) mean += values[k] / 9;
        for (std::size_t k = 0; k < 9; ++k) squares += (values[k] - mean) * (values[k] - mean);
        return std::abs(value - mean) / std::sqrt(squares / 8);
    };
    for (const double beyond : {5e-7, -5e-7}) {
        double low = 1.5, high = 100;
        for (int i = 0; i < 200; ++i) {
            const double middle = (low + high) / 2;
            (statistic(middle) < lambda * (1 + beyond) ? low : high) = middle;
        }
        statistic(low);
        CHECK((find_outliers(values, alpha, 2).at == std::vector<std::size_t>{8, 9}) == (beyond > 0));
    }
}

TEST_CASE("samples too small or without scatter have no outliers") {
    CHECK(find_outliers(std::vector<double>{1, 1, 1, 100}, 0.05, 3).at.empty());
    CHECK(find_outliers(std::vector<double>(20, 1.0), 0.05, 3).at.empty());
}
