#include "calib/statistics/serial_correlation.hpp"

#include <algorithm>
#include <cmath>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t fewest = 8;
constexpr double confidence = 0.9;
constexpr double strongest = 0.9;

}  // namespace

double von_neumann_ratio(std::span<const double> values) {
    if (values.size() < 4) return 2;
    double mean = 0;
    for (const double x : values) mean += x / static_cast<double>(values.size());
    double squares = 0;
    double steps = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        squares += (values[i] - mean) * (values[i] - mean);
        if (i > 0) steps += (values[i] - values[i - 1]) * (values[i] - values[i - 1]);
    }
    return squares > 0 ? steps / squares : 2;
}

double neighbour_correlation(std::span<const double> values) {
    if (values.size() < fewest) return 0;
    const auto n = static_cast<double>(values.size());
    // The deviations from a mean of few lower the usual r by about (1 + 3 r)/n (Kendall, Biometrika 41 (1954)
    // 403, from memory); the two ends of the ratio give back 1/n.
    const double seen = 1 - von_neumann_ratio(values) / 2;
    return std::clamp(seen * n / (n - 3), -1.0, 1.0);
}

double widening_by_dependence(double r, double n) {
    if (!(n >= static_cast<double>(fewest))) return 1;
    const double spread = std::sqrt((n - 2) / (n * n - 1));
    if (!(r > normal_quantile(confidence) * spread)) return 1;
    const double held = std::min(r, strongest);
    return std::sqrt((1 + held) / (1 - held));
}

}  // namespace tipwright::calib
