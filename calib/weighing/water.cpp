#include "calib/weighing/water.hpp"

#include "calib/base/wide.hpp"

namespace tipwright::calib {

namespace {

// Tanaka et al. 2001, below eq. 1.
constexpr double a1_C = -3.983035;
constexpr double a2_C = 301.797;
constexpr double a3_C2 = 522528.9;
constexpr double a4_C = 69.34881;
constexpr double a5_kg_m3 = 999.974950;

// The part of eq. 1 taken away from one.
double deficit(double t) {
    return (t + a1_C) * (t + a1_C) * (t + a2_C) / (a3_C2 * (t + a4_C));
}

}  // namespace

double water_density_kg_m3(double temperature_C) {
    return a5_kg_m3 * (1 - deficit(temperature_C));
}

double water_density_relative_slope(double temperature_C) {
    const double t = temperature_C;
    // d deficit/dt, each factor of eq. 1 in turn; written without dividing by (t + a1), zero at 3.98 degC.
    const double slope = (2 * (t + a1_C) * (t + a2_C) + (t + a1_C) * (t + a1_C)) / (a3_C2 * (t + a4_C)) -
                         deficit(t) / (t + a4_C);
    return -slope / (1 - deficit(t));
}

namespace {

TIPWRIGHT_WIDE void relative_volume(double t, const double* __restrict deviation, double* __restrict out,
                                    std::size_t count) {
    const double here = 1 - deficit(t);
    for (std::size_t i = 0; i < count; ++i) {
        const double s = t + deviation[i];
        const double square = (s + a1_C) * (s + a1_C) * (s + a2_C);
        const double scale = a3_C2 * (s + a4_C);
        out[i] = here * scale / (scale - square);  // one division instead of two
    }
}

}  // namespace

void relative_water_volume(double temperature_C, std::span<const double> deviation_C, std::span<double> out) {
    relative_volume(temperature_C, deviation_C.data(), out.data(), deviation_C.size());
}

}  // namespace tipwright::calib
