#include "bench/virtual_bench/virtual_rain.hpp"

#include <algorithm>
#include <cmath>

#include "bench/virtual_bench/portable_math.hpp"

namespace tipwright::bench {

namespace {
constexpr int halvings = 10;
constexpr std::int64_t block_s = std::int64_t{1} << halvings;
constexpr std::uint64_t storms_stream = 1001;
constexpr std::uint64_t bursts_stream = 100000;

double exponential(Random& dice, double mean) {
    return -mean * portable_log(dice.uniform());
}
// Knuth, by products of uniforms; for means of a few.
int poisson(Random& dice, double mean) {
    const double least = portable_exp(-mean);
    int n = 0;
    double product = dice.uniform();
    while (product > least) {
        product *= dice.uniform();
        ++n;
    }
    return n;
}
}  // namespace

VirtualRain::VirtualRain(const RainClimate& climate, double duration_s, std::uint64_t seed)
    : duration_s_(duration_s), burst_(climate.burst), seed_(seed) {
    Random dice(seed, storms_stream);
    const double between_s = 86400 / climate.storms_per_day;
    // Storms before the beginning reach into it.
    for (double origin = -20 * 3600.0 / std::min(climate.begin_per_h, climate.end_per_h);;) {
        origin += exponential(dice, between_s);
        if (origin >= duration_s) break;
        const int cells = poisson(dice, climate.cells);
        for (int i = 0; i < cells; ++i) {
            // To whole seconds: the finest time of the rain.
            const double begins = std::round(origin + exponential(dice, 3600 / climate.begin_per_h));
            const double ends = std::round(begins + exponential(dice, 3600 / climate.end_per_h));
            const double mm_h = exponential(dice, climate.mean_mm_h);
            const double from = std::max(begins, 0.0);
            if (!(ends > from) || begins >= duration_s) continue;
            edges_.push_back({from, mm_h});
            edges_.push_back({std::min(ends, duration_s), -mm_h});
        }
    }
    std::stable_sort(edges_.begin(), edges_.end(),
                     [](const Edge& a, const Edge& b) { return a.time_s < b.time_s; });
}

VirtualRain::VirtualRain(const std::vector<double>& mm_h, double step_s)
    : duration_s_(step_s * static_cast<double>(mm_h.size())), burst_(0), seed_(0) {
    for (std::size_t i = 0; i < mm_h.size(); ++i) {
        if (!(mm_h[i] > 0)) continue;
        edges_.push_back({step_s * static_cast<double>(i), mm_h[i]});
        edges_.push_back({step_s * static_cast<double>(i + 1), -mm_h[i]});
    }
}

void VirtualRain::make_burst(std::int64_t block) {
    block_ = block;
    Random dice(seed_, bursts_stream + static_cast<std::uint64_t>(block));
    factors_.assign(1, 1.0);
    for (int level = 0; level < halvings; ++level) {
        std::vector<double> finer;
        finer.reserve(2 * factors_.size());
        for (const double factor : factors_) {
            const double w = burst_ * dice.between(-1, 1);
            finer.push_back(factor * (1 + w));
            finer.push_back(factor * (1 - w));
        }
        factors_.swap(finer);
    }
}

VirtualRain::Piece VirtualRain::at(double time_s) {
    while (next_ < edges_.size() && edges_[next_].time_s <= time_s) {
        level_mm_h_ += edges_[next_].change_mm_h;
        cells_on_ += edges_[next_].change_mm_h > 0 ? 1 : -1;
        ++next_;
    }
    const double until = next_ < edges_.size() ? edges_[next_].time_s : duration_s_;
    if (cells_on_ == 0) {
        level_mm_h_ = 0;
        return {0, until};
    }
    if (!(burst_ > 0)) return {level_mm_h_, until};
    const auto second = static_cast<std::int64_t>(std::floor(time_s));
    if (second / block_s != block_) make_burst(second / block_s);
    return {level_mm_h_ * factors_[static_cast<std::size_t>(second % block_s)],
            std::min(until, static_cast<double>(second + 1))};
}

}  // namespace tipwright::bench
