#include "calib/water.hpp"

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

}  // namespace tipwright::calib
