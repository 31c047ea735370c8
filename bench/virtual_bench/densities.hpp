// Densities as the virtual bench's world has them, kg/m3. Not the formulas of calib/ on purpose: a slip in
// one of those must show as an error of the calibration, not cancel against the same slip here.
#pragma once

namespace tipwright::bench {

// Kell, J. Chem. Eng. Data 20 (1975) 97-105, eq. 16; 0 to 50 degC. Within 0.006 kg/m3 of Tanaka et al. 2001.
double world_water_density_kg_m3(double temperature_C);
// OIML R 111-1:2004, eq. E.3-1; 600 to 1100 hPa, 10 to 30 degC. Relative error 2e-4 against CIPM-2007.
double world_air_density_kg_m3(double temperature_C, double pressure_hPa, double relative_humidity_percent);
// Grams shown for a gram of water by a balance adjusted with weights of 8000 kg/m3 in air of 1.2 kg/m3:
// equal upthrust and weight on both sides of the beam (OIML D 28, conventional value of weighing in air).
double shown_per_gram(double air_density_kg_m3, double water_density_kg_m3);

}  // namespace tipwright::bench
