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

double widening_by_dependence(std::span<const double> values) {
    if (values.size() < fewest) return 1;
    const auto n = static_cast<double>(values.size());
    const double ratio = von_neumann_ratio(values);
    const double spread = 2 * std::sqrt((n - 2) / (n * n - 1));
    if (!(2 - ratio > normal_quantile(confidence) * spread)) return 1;
    // The ratio falls short of 2 (1 - r) by the two ends; the deviations from a mean of few lower r by about
    // (1 + 3 r)/n (Kendall, Biometrika 41 (1954) 403, from memory).
    const double seen = 1 - ratio / 2;
    const double r = std::clamp((seen * n + 1) / std::max(n - 3, 1.0), 0.0, strongest);
    return std::sqrt((1 + r) / (1 - r));
}

}  // namespace tipwright::calib
