#include "calib/weighing/weighing.hpp"

namespace tipwright::calib {

double buoyancy_factor(double air_density_kg_m3, double water_density_kg_m3) {
    return (1 - reference_air_density_kg_m3 / reference_weight_density_kg_m3) /
           (1 - air_density_kg_m3 / water_density_kg_m3);
}

}  // namespace tipwright::calib
