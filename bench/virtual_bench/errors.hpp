// SystematicErrors: what is wrong with this one bench and this one gauge, drawn once from the
// distributions their descriptions state: rectangular for half widths, normal for standard
// uncertainties, scaled Student's t where degrees of freedom are given (JCGM 101:2008, 6.4).
// Nobody but the physics and the tests may look at them.
#pragma once

#include <cstdint>

#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

struct SystematicErrors {
    double pump_scale_relative = 0;
    double balance_sensitivity_relative = 0;  // calibration and drift since
    double balance_linearity_g = 0;           // amplitude, |value| <= half width
    double balance_linearity_period_g = 250;  // the error goes up and down along the load
    double balance_linearity_phase = 0;       // 0 to 1
    double balance_zero_drift_g_h = 0;
    double balance_repeatability_g =
        0;                         // true standard deviation of one reading; the stated one is an estimate
    double evaporation_g_h = 0;    // true rate, never below 0
    double catch_diameter_mm = 0;  // true diameter
    double siphon_volume_relative = 0;  // this gauge's siphon over that of its kind, minus 1
    double counter_rate_relative = 0;
    double counter_offset_s = 0;            // the counter was switched on that long before the run
    double water_temperature_offset_C = 0;  // thermometer minus truth
    double air_temperature_offset_C = 0;
    double air_pressure_offset_hPa = 0;
    double relative_humidity_offset_percent = 0;
};

SystematicErrors draw_errors(const calib::Gauge& gauge, const BenchTruth& truth,
                             const calib::BenchMetrology& metrology, std::uint64_t seed);

// The kind's truth made into that of this one gauge.
GaugeTruth truth_of_one(const GaugeTruth& kind, const SystematicErrors& errors);

}  // namespace tipwright::bench
