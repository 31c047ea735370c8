#include "calib/weighing/air.hpp"

#include <cmath>

namespace tipwright::calib {

// Picard et al. 2008, eq. 1 and appendix A1; mole fraction of carbon dioxide 400e-6.
double air_density_kg_m3(double temperature_C, double pressure_hPa, double relative_humidity_percent) {
    constexpr double gas_constant_J_mol_K = 8.314472;
    constexpr double molar_mass_air_kg_mol = 28.96546e-3;
    constexpr double molar_mass_water_kg_mol = 18.01528e-3;
    const double t = temperature_C;
    const double T = t + 273.15;
    const double p = 100 * pressure_hPa;

    // Saturation vapour pressure p_sv, Pa; enhancement factor f; mole fraction of water vapour x_v.
    const double p_sv = std::exp(1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T);
    const double f = 1.00062 + 3.14e-8 * p + 5.6e-7 * t * t;
    const double x_v = relative_humidity_percent / 100 * f * p_sv / p;

    // Compressibility factor Z.
    const double Z = 1 -
                     p / T *
                         (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * x_v +
                          (1.9898e-4 - 2.376e-6 * t) * x_v * x_v) +
                     p * p / (T * T) * (1.83e-11 - 0.765e-8 * x_v * x_v);

    return p * molar_mass_air_kg_mol / (Z * gas_constant_J_mol_K * T) *
           (1 - x_v * (1 - molar_mass_water_kg_mol / molar_mass_air_kg_mol));
}

}  // namespace tipwright::calib
