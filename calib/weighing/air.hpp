// Density of moist air, kg/m3. CIPM-2007: Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149-155.
// Temperature in degrees Celsius, pressure in hPa, relative humidity in per cent.
#pragma once

namespace tipwright::calib {

double air_density_kg_m3(double temperature_C, double pressure_hPa, double relative_humidity_percent);

}  // namespace tipwright::calib
