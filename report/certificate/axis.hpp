// Axis: range and ticks of a chart's axis, linear or logarithmic, at round values (1, 2, 5 times a power of
// ten).
#pragma once

#include <string>
#include <vector>

namespace tipwright::report::certificate {

struct Tick {
    double value = 0;
    std::string label;  // decimal point; empty: a small tick
};

struct Axis {
    double low = 0;
    double high = 1;
    bool logarithmic = false;
    std::vector<Tick> ticks;

    // 0 at the low end, 1 at the high end.
    double position(double value) const;
};

// Covers low to high, widened to whole steps; about `wanted` labelled ticks. low < high, finite.
Axis linear_axis(double low, double high, int wanted);
// 0 < low < high. Not widened to whole steps; a few per cent of room at both ends.
Axis logarithmic_axis(double low, double high);
// Logarithmic when the values span a decade or more, else linear from 0.
Axis axis_for_rates(double smallest, double largest);

}  // namespace tipwright::report::certificate
