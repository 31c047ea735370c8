// WeighingWindow: what a stretch of balance readings says: mean, noise about a straight line, drift.
#pragma once

#include <span>

#include "bench/instruments/roles.hpp"

namespace tipwright::program {

struct WeighingWindow {
    int readings = 0;
    double span_s = 0;
    double mean_g = 0;
    double noise_g = 0;      // standard deviation about the line
    double drift_g_h = 0;    // slope of the line
    double drift_u_g_h = 0;  // its standard uncertainty, readings taken as independent
    double mean_u_g = 0;     // of the mean, likewise
    double longest_gap_s = 0;
};

// Readings that arrived between the two moments. Below three readings only their number and mean count.
WeighingWindow weighing_window(std::span<const bench::WeightReading> readings, double from_s, double to_s);

}  // namespace tipwright::program
