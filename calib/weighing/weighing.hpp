// From balance reading to mass and volume of water.
//   m = W (1 - rho_air0/rho_ref) / (1 - rho_air/rho_w)      V = m / rho_w
// Balance adjusted with weights of conventional density rho_ref = 8000 kg/m3 in rho_air0 = 1.2 kg/m3
// (OIML R 111-1); ISO 4185:1980; the factor V/W is the Z factor of ISO 8655-6.
#pragma once

namespace tipwright::calib {

inline constexpr double reference_weight_density_kg_m3 = 8000.0;
inline constexpr double reference_air_density_kg_m3 = 1.2;

double buoyancy_factor(double air_density_kg_m3, double water_density_kg_m3);

}  // namespace tipwright::calib
