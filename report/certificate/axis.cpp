#include "report/certificate/axis.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"

namespace tipwright::report::certificate {

namespace {

// Smallest of 1, 2, 5 times a power of ten that is not below `least`.
double round_step(double least) {
    const double power = std::pow(10, std::floor(std::log10(least)));
    for (double factor : {1.0, 2.0, 5.0})
        if (factor * power >= least * (1 - 1e-9)) return factor * power;
    return 10 * power;
}

std::string label_of(double value, double step) {
    const int decimals = std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9)));
    return calib::fixed(value, decimals);
}

}  // namespace

double Axis::position(double value) const {
    if (logarithmic) return std::log(value / low) / std::log(high / low);
    return (value - low) / (high - low);
}

Axis linear_axis(double low, double high, int wanted) {
    Axis axis;
    const double step = round_step((high - low) / wanted);
    const double first = std::floor(low / step + 1e-9);
    const double last = std::ceil(high / step - 1e-9);
    axis.low = first * step;
    axis.high = last * step;
    // Counted, not added up, so that no rounding gathers.
    for (int k = 0; first + k <= last + 0.5; ++k) {
        const double value = (first + k) * step;
        axis.ticks.push_back({value, label_of(value, step)});
    }
    return axis;
}

Axis logarithmic_axis(double low, double high) {
    Axis axis;
    axis.logarithmic = true;
    const double room = std::pow(high / low, 0.04);
    axis.low = low / room;
    axis.high = high * room;
    const bool few = std::log10(axis.high / axis.low) > 3.2;  // then only whole powers are labelled
    const double lowest = std::floor(std::log10(axis.low));
    for (int k = 0; lowest + k <= std::log10(axis.high); ++k) {
        const double power = std::pow(10, lowest + k);
        for (int factor = 1; factor <= 9; ++factor) {
            const double value = factor * power;
            if (value < axis.low || value > axis.high) continue;
            const bool labelled = few ? factor == 1 : factor == 1 || factor == 2 || factor == 5;
            axis.ticks.push_back({value, labelled ? label_of(value, power) : ""});
        }
    }
    return axis;
}

Axis axis_for_rates(double smallest, double largest) {
    if (smallest > 0 && largest / smallest >= 10) return logarithmic_axis(smallest, largest);
    return linear_axis(0, largest > 0 ? largest * 1.02 : 1, 8);
}

}  // namespace tipwright::report::certificate
