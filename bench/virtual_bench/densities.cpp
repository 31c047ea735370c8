#include "bench/virtual_bench/densities.hpp"

#include "bench/virtual_bench/portable_math.hpp"

namespace tipwright::bench {

double world_water_density_kg_m3(double t) {
    const double numerator =
        999.83952 +
        t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))));
    return numerator / (1 + 16.879850e-3 * t);
}

double world_air_density_kg_m3(double t, double p, double h) {
    return (0.34848 * p - 0.009 * h * portable_exp(0.061 * t)) / (273.15 + t);
}

double shown_per_gram(double air_density_kg_m3, double water_density_kg_m3) {
    const double water_pull = 1 - air_density_kg_m3 / water_density_kg_m3;
    const double weight_pull = 1 - 1.2 / 8000.0;
    return water_pull / weight_pull;
}

}  // namespace tipwright::bench
