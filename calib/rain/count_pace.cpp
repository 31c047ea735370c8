#include "calib/rain/count_pace.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::calib {

namespace {
constexpr double tips_enough = 5;
constexpr double minute_s = 60;
constexpr double most_exponent = 0.7;
// Where too few tips came to see it (common practice, no source).
constexpr double usual_exponent = 0.35;
}  // namespace

void CountPace::take(int count) {
    all_ += count;
    ++taken_;
    for (std::size_t k = 0; k < scales; ++k) {
        sum_[k] += count;
        if ((taken_ & ((std::uint64_t{1} << k) - 1)) == 0) {
            squares_[k] += sum_[k] * sum_[k];
            sum_[k] = 0;
        }
    }
}

double CountPace::exponent() const {
    for (std::size_t k = 0; k + 1 < scales && all_ > 0; ++k) {
        const double here = squares_[k] / all_;
        if (here < tips_enough) continue;
        const double twice = squares_[k + 1] / all_;
        if (!(twice > 0)) break;
        return std::clamp(std::log2(2 * here / twice), 0.0, most_exponent);
    }
    return usual_exponent;
}

double CountPace::factor() const {
    return interval_s_ > minute_s ? std::pow(interval_s_ / minute_s, exponent()) : 1;
}

}  // namespace tipwright::calib
