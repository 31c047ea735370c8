// Noise and drift of a stretch of readings, built backwards from chosen answers.
#include "bench/program/instruments/weighing_window.hpp"

#include <vector>

#include <catch2/catch.hpp>

using namespace tipwright;

TEST_CASE(
    "weighing window: a straight line has its slope and no noise, alternating readings their deviation") {
    std::vector<bench::WeightReading> line;
    for (int i = 0; i < 300; ++i) line.push_back({100 + 0.001 * i, true, 3, "", 0.2 * i});
    const auto drifting = program::weighing_window(line, 0, 100);
    CHECK(drifting.readings == 300);
    CHECK(drifting.drift_g_h == Approx(0.005 * 3600));
    CHECK(drifting.noise_g == Approx(0).margin(1e-9));
    CHECK(drifting.longest_gap_s == Approx(0.2));
    CHECK(drifting.span_s == Approx(59.8));

    // +a, -a, -a, +a: no slope in each four; the residual variance is n a^2 / (n - 2).
    std::vector<bench::WeightReading> noisy;
    const double signs[] = {1, -1, -1, 1};
    for (int i = 0; i < 400; ++i) noisy.push_back({50 + 0.01 * signs[i % 4], true, 2, "", 1.0 * i});
    const auto window = program::weighing_window(noisy, 0, 1000);
    CHECK(window.mean_g == Approx(50));
    CHECK(window.drift_g_h == Approx(0).margin(1e-9));
    CHECK(window.noise_g == Approx(0.01 * std::sqrt(400.0 / 398.0)));
    CHECK(window.mean_u_g == Approx(window.noise_g / 20));

    CHECK(program::weighing_window(noisy, 2000, 3000).readings == 0);
    CHECK(program::weighing_window(noisy, 0, 1).readings == 2);
    CHECK(program::weighing_window(noisy, 0, 1).noise_g == 0);
}
