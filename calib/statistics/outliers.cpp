#include "calib/statistics/outliers.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

Outliers find_outliers(std::span<const double> values, double alpha, std::size_t most) {
    Outliers result;
    const std::size_t n = values.size();
    if (n < 5) return result;
    most = std::min(most, n / 3);
    std::vector<std::size_t> left(n);
    std::iota(left.begin(), left.end(), std::size_t{0});
    std::vector<std::size_t> taken;
    std::size_t confirmed = 0;
    for (std::size_t i = 1; i <= most; ++i) {
        const auto count = static_cast<double>(left.size());
        double mean = 0;
        for (const std::size_t k : left) mean += values[k];
        mean /= count;
        double squares = 0;
        for (const std::size_t k : left) squares += (values[k] - mean) * (values[k] - mean);
        const double s = std::sqrt(squares / (count - 1));
        const auto furthest = std::max_element(left.begin(), left.end(), [&](std::size_t a, std::size_t b) {
            return std::abs(values[a] - mean) < std::abs(values[b] - mean);
        });
        const double statistic = s > 0 ? std::abs(values[*furthest] - mean) / s : 0;
        const auto rest = static_cast<double>(n - i);
        const double t = student_quantile(1 - alpha / (2 * (rest + 1)), rest - 1);
        const double threshold = rest * t / std::sqrt((rest - 1 + t * t) * (rest + 1));
        taken.push_back(*furthest);
        left.erase(furthest);
        if (i == 1 || statistic > threshold) {
            result.statistic = statistic;
            result.threshold = threshold;
        }
        if (statistic > threshold) confirmed = i;
        if (!(s > 0)) break;
    }
    result.at.assign(taken.begin(), taken.begin() + static_cast<std::ptrdiff_t>(confirmed));
    std::sort(result.at.begin(), result.at.end());
    return result;
}

}  // namespace tipwright::calib
