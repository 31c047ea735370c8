#include "calib/base/sums.hpp"

#include <algorithm>
#include <array>

namespace tipwright::calib {

// Eight running sums, so that the additions do not wait for each other; always in the same order.
Sums sums_of(std::span<const double> values) {
    constexpr std::size_t lanes = 8;
    const std::size_t n = values.size();
    const std::size_t whole = n - n % lanes;
    const double origin = values.front();
    std::array<double, lanes> sum{};
    std::array<double, lanes> square{};
    for (std::size_t i = 0; i < whole; i += lanes) {
        for (std::size_t l = 0; l < lanes; ++l) {
            const double d = values[i + l] - origin;
            sum[l] += d;
            square[l] += d * d;
        }
    }
    double total = 0;
    double squares = 0;
    for (std::size_t l = 0; l < lanes; ++l) {
        total += sum[l];
        squares += square[l];
    }
    for (std::size_t i = whole; i < n; ++i) {
        total += values[i] - origin;
        squares += (values[i] - origin) * (values[i] - origin);
    }
    const auto count = static_cast<double>(n);
    return {origin + total / count, std::max(squares - total * total / count, 0.0), n};
}

}  // namespace tipwright::calib
