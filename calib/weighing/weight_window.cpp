#include "calib/weighing/weight_window.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::calib {

std::optional<WindowMean> window_mean(std::span<const WeightPoint> weights, double from_s, double to_s) {
    const auto before = [](const WeightPoint& point, double time_s) { return point.time_s < time_s; };
    auto first = std::lower_bound(weights.begin(), weights.end(), from_s, before);
    auto last = std::lower_bound(weights.begin(), weights.end(), to_s, before);
    if (first == weights.begin() || last == weights.end()) return std::nullopt;
    const auto at = [](const WeightPoint& a, const WeightPoint& b, double time_s) {
        const double span_s = b.time_s - a.time_s;
        return span_s > 0 ? a.mass_g + (b.mass_g - a.mass_g) * (time_s - a.time_s) / span_s : b.mass_g;
    };
    WindowMean result;
    double area = 0;
    double time_s = from_s;
    double mass_g = at(*(first - 1), *first, from_s);
    double sum = 0;
    double sum_squared = 0;
    const double origin_g = mass_g;  // keeps the squares small
    for (auto point = first; point != last; ++point) {
        area += (point->time_s - time_s) * (point->mass_g + mass_g) / 2;
        time_s = point->time_s;
        mass_g = point->mass_g;
        sum += mass_g - origin_g;
        sum_squared += (mass_g - origin_g) * (mass_g - origin_g);
        ++result.readings;
    }
    if (result.readings < 1) return std::nullopt;
    const double end_g = at(*(last - 1), *last, to_s);
    area += (to_s - time_s) * (end_g + mass_g) / 2;
    result.mean_g = area / (to_s - from_s);
    if (result.readings > 1) {
        const double n = result.readings;
        result.sd_g = std::sqrt(std::max(0.0, (sum_squared - sum * sum / n) / (n - 1)));
    }
    return result;
}

}  // namespace tipwright::calib
