// Density of air-free water, kg/m3, from temperature in degrees Celsius (ITS-90) at 101.325 kPa.
//   rho = a5 (1 - (t + a1)^2 (t + a2) / (a3 (t + a4)))
// Source: Tanaka et al., Metrologia 38 (2001) 301-309, eq. 1. Domain 0 to 40 (0 to 50 accepted).
#pragma once

#include <span>

namespace tipwright::calib {

double water_density_kg_m3(double temperature_C);
// Relative change of density per kelvin, 1/K (negative above 4 degC).
double water_density_relative_slope(double temperature_C);
// rho(t) / rho(t + dt) for a block of temperature deviations dt: volume of a given mass against that at t.
void relative_water_volume(double temperature_C, std::span<const double> deviation_C, std::span<double> out);

}  // namespace tipwright::calib
