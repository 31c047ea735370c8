// VirtualRain: rain with known amounts, second by second, for virtual gauges to stand in.
//   storms: Neyman-Scott rectangular pulses (Rodriguez-Iturbe, Cox & Isham, Proc. R. Soc. Lond. A 410 (1987)
//   269-288, section 3; from memory): storm origins a Poisson process of rate lambda, cells of a storm
//   Poisson distributed of mean mu_c, each begins an exponential time (beta) after the origin, lasts an
//   exponential time (eta) at an exponential intensity of mean mu_x. Mean intensity lambda mu_c mu_x / eta;
//   variance of amounts over h in their eq. for Y(h), checked in
//   tests/bench/virtual_bench/virtual_rain_test.cpp. bursts: within 1024 s each, a microcanonical cascade of
//   ten halvings down to 1 s, weights (1 + w)/2 and (1 - w)/2 with w rectangular in +-burst (Carsteanu &
//   Foufoula-Georgiou, J. Geophys. Res. 101 (1996) 26363; from memory). 0: pulses alone.
// The parameters' defaults are invented. Deterministic for a seed. Times s, intensities mm/h, depths mm.
#pragma once

#include <cstdint>
#include <vector>

#include "bench/virtual_bench/random.hpp"

namespace tipwright::bench {

struct RainClimate {
    double storms_per_day = 0.5;  // lambda
    double cells = 8;             // mu_c
    double begin_per_h = 0.4;     // beta
    double end_per_h = 2.5;       // eta
    double mean_mm_h = 5;         // mu_x
    double burst = 0.5;           // 0 to 1
};

class VirtualRain {
public:
    VirtualRain(const RainClimate& climate, double duration_s, std::uint64_t seed);

    // Rain of given intensities, each for step_s (whole seconds): measured ones, or another generator's.
    VirtualRain(const std::vector<double>& mm_h, double step_s);

    // Rain from a time on: how strong, and until when it stays so. 0 mm/h in dry weather.
    struct Piece {
        double mm_h = 0;
        double until_s = 0;
    };
    // time_s never goes back; pieces end at whole seconds where it rains.
    Piece at(double time_s);
    double duration_s() const { return duration_s_; }

private:
    void make_burst(std::int64_t block);

    double duration_s_;
    double burst_;
    std::uint64_t seed_;
    struct Edge {
        double time_s;
        double change_mm_h;
    };
    std::vector<Edge> edges_;
    std::size_t next_ = 0;
    double level_mm_h_ = 0;
    int cells_on_ = 0;
    std::int64_t block_ = -1;
    std::vector<double> factors_;  // of the block's seconds
};

}  // namespace tipwright::bench
