#include "bench/virtual_bench/virtual_rain.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;

namespace {

// Amounts of each hour, mm.
std::vector<double> hours(const bench::RainClimate& climate, double days, std::uint64_t seed) {
    bench::VirtualRain rain(climate, days * 86400, seed);
    std::vector<double> out(static_cast<std::size_t>(days * 24));
    for (double t = 0; t < days * 86400;) {
        const auto piece = rain.at(t);
        const double hour_end = (std::floor(t / 3600) + 1) * 3600;
        const double until = std::min(piece.until_s, hour_end);
        out[static_cast<std::size_t>(t / 3600)] += piece.mm_h * (until - t) / 3600;
        t = until;
    }
    return out;
}

}  // namespace

// Rodriguez-Iturbe, Cox & Isham 1987, mean and variance of the Neyman-Scott rectangular pulses model (from
// memory):
//   E Y(h) = lambda mu_c mu_x h / eta
//   var Y(h) = lambda/eta^3 (eta h - 1 + e^(-eta h)) {2 mu_c E X^2 + E(C^2 - C) mu_x^2 beta^2/(beta^2 -
//   eta^2)}
//            - lambda (beta h - 1 + e^(-beta h)) E(C^2 - C) mu_x^2 / (beta (beta^2 - eta^2))
TEST_CASE("virtual rain: mean and variance of hours as published", "[rain]") {
    bench::RainClimate c;
    c.burst = 0;
    c.storms_per_day = 1;
    const double lambda = c.storms_per_day / 24, h = 1;
    const double mean = lambda * c.cells * c.mean_mm_h * h / c.end_per_h;
    const double eta = c.end_per_h, beta = c.begin_per_h;
    const double pairs = c.cells * c.cells;                // E(C^2 - C) of a Poisson number
    const double squares = 2 * c.mean_mm_h * c.mean_mm_h;  // E X^2 of an exponential intensity
    const double part = pairs * c.mean_mm_h * c.mean_mm_h / (beta * beta - eta * eta);
    const double variance = lambda / std::pow(eta, 3) * (eta * h - 1 + std::exp(-eta * h)) *
                                (2 * c.cells * squares + beta * beta * part) -
                            lambda * (beta * h - 1 + std::exp(-beta * h)) * part / beta;
    double sum = 0, sum2 = 0, n = 0;
    for (std::uint64_t seed = 1; seed <= 8; ++seed) {
        for (const double mm : hours(c, 4000, seed)) {
            sum += mm;
            sum2 += mm * mm;
            ++n;
        }
    }
    // 32 000 storms: the mean to about 1 %, the variance to about 3 %; four times that.
    CHECK(sum / n == Approx(mean).epsilon(0.03));
    CHECK(sum2 / n - sum / n * sum / n == Approx(variance).epsilon(0.1));
}

TEST_CASE("virtual rain: bursts move water about, none is made or lost", "[rain]") {
    bench::RainClimate plain;
    plain.burst = 0;
    bench::RainClimate bursts;
    double a = 0, b = 0;
    for (const double mm : hours(plain, 60, 3)) a += mm;
    for (const double mm : hours(bursts, 60, 3)) b += mm;
    REQUIRE(a > 0);
    CHECK(b == Approx(a).epsilon(0.1));  // cells that end within a cascade's 1024 s get more or less of it
    CHECK(hours(bursts, 60, 3) == hours(bursts, 60, 3));
    CHECK(hours(bursts, 60, 3) != hours(bursts, 60, 4));
}
