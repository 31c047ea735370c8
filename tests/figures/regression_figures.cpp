// Time of one straight-line fit through twenty points with full covariance in x, y and between them.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <random>

#include "calib/statistics/regression.hpp"

using namespace tipwright::calib;

namespace {

CalibrationPoints twenty_points() {
    constexpr std::size_t n = 20;
    std::mt19937_64 random(20);
    std::normal_distribution<double> normal;
    CalibrationPoints points;
    points.cov_x = SquareMatrix(n);
    points.cov_y = SquareMatrix(n);
    points.cov_xy = SquareMatrix(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double flow = 0.1 + 0.2 * static_cast<double>(i);
        points.x.push_back(flow * (1 + 0.003 * normal(random)));
        points.y.push_back(6.2 + 0.4 * flow + 0.01 * normal(random));
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            const double u_x = 0.003 * points.x[i] * 0.003 * points.x[j];
            points.cov_x(i, j) = u_x * (i == j ? 1 : 0.5);
            points.cov_y(i, j) = 1e-4 * (i == j ? 1 : 0.5);
            points.cov_xy(i, j) = 0.003 * points.x[i] * 0.01 * (i == j ? 0.6 : 0.4);
        }
    }
    return points;
}

}  // namespace

int main() {
    using Clock = std::chrono::steady_clock;
    const CalibrationPoints points = twenty_points();
    constexpr int fits = 20;
    double best_us = 1e9;
    double sum = 0;
    for (int round = 0; round < 300; ++round) {
        const auto start = Clock::now();
        for (int i = 0; i < fits; ++i) {
            const auto fit = fit_polynomial(points, 1);
            if (!fit) {
                std::fprintf(stderr, "%s\n", fit.fault().what.c_str());
                return 1;
            }
            sum += fit->coefficients[1];
        }
        best_us =
            std::min(best_us, std::chrono::duration<double, std::micro>(Clock::now() - start).count() / fits);
    }
    const auto fit = fit_polynomial(points, 1);
    std::printf("straight line through 20 points with full covariance: slope %.6f, %d iterations\n",
                sum / (300 * fits), fit->iterations);
    std::printf("figure ggmr_fit_20_points %.1f us limit <= 24 %s\n", best_us,
                best_us <= 24 ? "ok" : "short");
    return 0;
}
