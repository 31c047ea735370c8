#include "calib/statistics/outliers.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib {

namespace {

// Taken off the smallest threshold, for the rounding of a quantile.
constexpr double a_hair = 1e-6;

}  // namespace

Outliers find_outliers(std::span<const double> values, double alpha, std::size_t most) {
    Outliers result;
    const std::size_t n = values.size();
    if (n < 5) return result;
    most = std::min(most, n / 3);
    std::vector<std::size_t> left(n);
    std::iota(left.begin(), left.end(), std::size_t{0});
    std::vector<std::size_t> taken;
    std::size_t confirmed = 0;
    const auto threshold_at = [&](std::size_t i) {
        const auto rest = static_cast<double>(n - i);
        const double t = student_quantile(1 - alpha / (2 * (rest + 1)), rest - 1);
        return rest * t / std::sqrt((rest - 1 + t * t) * (rest + 1));
    };
    // The fewer values are left the smaller lambda is: what does not pass the last one needs no quantile of
    // its own, and of an ordinary sample hardly any value does.
    const double smallest_threshold = (1 - a_hair) * threshold_at(most);
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
        taken.push_back(*furthest);
        left.erase(furthest);
        if (i == 1 || statistic > smallest_threshold) {
            const double threshold = threshold_at(i);
            if (statistic > threshold) confirmed = i;
            if (i == 1 || statistic > threshold) {
                result.statistic = statistic;
                result.threshold = threshold;
            }
        }
        if (!(s > 0)) break;
    }
    result.at.assign(taken.begin(), taken.begin() + static_cast<std::ptrdiff_t>(confirmed));
    std::sort(result.at.begin(), result.at.end());
    return result;
}

}  // namespace tipwright::calib
