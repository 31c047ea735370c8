// BenchMetrology: what the bench's own calibrations say of its instruments. Standard uncertainties
// unless a name says half_width (then rectangular, u = a / sqrt 3, JCGM 100:2008 clause 4.3.7).
#pragma once

#include <optional>
#include <vector>

#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

struct BalanceMetrology {
    double resolution_g = 0.01;     // display step d
    double repeatability_g = 0.01;  // standard deviation of one reading
    double repeatability_dof = 9;
    double linearity_half_width_g = 0.02;     // over the span used
    double calibration_relative_u = 1e-5;     // of the sensitivity, from its certificate
    double drift_relative_half_width = 2e-5;  // of the sensitivity since that certificate
    double zero_drift_half_width_g_h = 0.02;
    double capacity_g = 3000;
};

// The smallest U of the error of indication that the laboratory claims at an intensity: its calibration and
// measurement capability (CMC, ILAC-P14:09/2020). Between two intensities by straight lines, beyond them the
// nearest.
struct CapabilityPoint {
    double intensity_mm_h = 0;
    double U_percent = 0;
};

struct PermittedRange {
    double low = 0;
    double high = 0;
};

// Within what a step may be measured; none: not limited.
struct EnvironmentLimits {
    std::optional<PermittedRange> water_temperature_C;
    std::optional<PermittedRange> air_temperature_C;
    std::optional<PermittedRange> air_pressure_hPa;
    std::optional<PermittedRange> relative_humidity_percent;
};

struct BenchMetrology {
    BalanceMetrology balance;
    Uncertain evaporation_g_h;       // lost from the vessel, from a blank run
    double residual_u_g = 0.02;      // water clinging between gauge and vessel, per edge
    double discharge_lag_s = 1.5;    // time constant of drain plus balance filter
    double discharge_delay_s = 0.5;  // pure delay from tip to vessel
    double clock_relative_u = 2e-5;  // of the tip counter's time base
    double edge_time_u_s = 0.001;    // one contact edge
    double water_temperature_u_C = 0.3;
    double air_temperature_u_C = 0.5;
    double air_pressure_u_hPa = 2;
    double relative_humidity_u_percent = 5;
    double water_allowance_kg_m3 = 0;         // half-width of the density, for what is dissolved in the water
    std::vector<CapabilityPoint> capability;  // ascending intensity; empty: none stated
    EnvironmentLimits environment;
};

}  // namespace tipwright::calib
