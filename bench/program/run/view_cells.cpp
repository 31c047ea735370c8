#include "bench/program/run/view_cells.hpp"

#include <chrono>
#include <cmath>

#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

std::string number_cell(const std::optional<double>& value, int decimals, std::size_t width) {
    return flush_right(value ? calib::fixed(*value, decimals) : "-", width);
}

std::string hours_text(double seconds) {
    const int total = static_cast<int>(std::floor(seconds + 0.5));
    const auto two = [](int value) { return (value < 10 ? "0" : "") + std::to_string(value); };
    return std::to_string(total / 3600) + ":" + two(total / 60 % 60) + ":" + two(total % 60);
}

double monotonic_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

}  // namespace tipwright::program
