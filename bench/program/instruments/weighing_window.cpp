#include "bench/program/instruments/weighing_window.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace tipwright::program {

WeighingWindow weighing_window(std::span<const bench::WeightReading> readings, double from_s, double to_s) {
    std::vector<const bench::WeightReading*> in;
    for (const auto& reading : readings) {
        if (reading.arrived_s >= from_s && reading.arrived_s <= to_s) in.push_back(&reading);
    }
    WeighingWindow window;
    window.readings = static_cast<int>(in.size());
    if (in.empty()) return window;
    const auto n = static_cast<double>(in.size());
    double mean_s = 0;
    // Differences from the first reading keep the digits.
    double mean_off_g = 0;
    for (const auto* reading : in) {
        mean_s += reading->arrived_s / n;
        mean_off_g += (reading->mass_g - in[0]->mass_g) / n;
    }
    window.mean_g = in[0]->mass_g + mean_off_g;
    window.span_s = in.back()->arrived_s - in.front()->arrived_s;
    for (std::size_t i = 1; i < in.size(); ++i)
        window.longest_gap_s = std::max(window.longest_gap_s, in[i]->arrived_s - in[i - 1]->arrived_s);
    if (in.size() < 3) return window;
    double tt = 0;
    double tm = 0;
    for (const auto* reading : in) {
        const double t = reading->arrived_s - mean_s;
        tt += t * t;
        tm += t * (reading->mass_g - window.mean_g);
    }
    if (!(tt > 0)) return window;
    const double slope_g_s = tm / tt;
    double rest = 0;
    for (const auto* reading : in) {
        const double off = reading->mass_g - window.mean_g - slope_g_s * (reading->arrived_s - mean_s);
        rest += off * off;
    }
    window.noise_g = std::sqrt(rest / (n - 2));
    window.drift_g_h = slope_g_s * 3600;
    window.drift_u_g_h = window.noise_g / std::sqrt(tt) * 3600;
    window.mean_u_g = window.noise_g / std::sqrt(n);
    return window;
}

}  // namespace tipwright::program
