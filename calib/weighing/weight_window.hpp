// Weight window: the mean of balance readings over a stretch of time, exact whatever the sampling phase.
#pragma once

#include <optional>
#include <span>

namespace tipwright::calib {

struct WeightPoint {
    double time_s = 0;
    double mass_g = 0;
};

// Kept clear before the next tip: its water must not be in a window.
inline constexpr double guard_before_next_tip_s = 0.05;

struct WindowMean {
    double mean_g = 0;  // of the polyline through the readings
    double sd_g = 0;    // of the readings within
    int readings = 0;
};

// Readings in time order. Nothing where they do not reach around the window, or none lies in it.
std::optional<WindowMean> window_mean(std::span<const WeightPoint> weights, double from_s, double to_s);

}  // namespace tipwright::calib
