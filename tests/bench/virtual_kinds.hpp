// The five gauge kinds of the design as virtual gauges, for tests. Values are plausible ones, chosen so
// that the errors of indication look as the design's section 1 says; none belongs to a product.
#pragma once

#include <string>
#include <vector>

#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::test {

struct VirtualKind {
    std::string name;
    calib::Gauge gauge;
    bench::GaugeTruth truth;
};

inline calib::Gauge make_gauge(double tip_mm, double diameter_mm, int compartments, int contacts) {
    calib::Gauge gauge;
    gauge.nominal_tip_mm = tip_mm;
    gauge.catch_diameter_mm = {diameter_mm, 0.05, calib::infinite_dof};
    gauge.compartments = compartments;
    gauge.contacts.resize(static_cast<std::size_t>(contacts));
    gauge.max_intensity_mm_h = 500;
    return gauge;
}

inline std::vector<VirtualKind> virtual_kinds() {
    std::vector<VirtualKind> kinds;
    {
        // 150 mm, 0.2 mm: 3.53 mL a tip. Set right at about 30 mm/h.
        VirtualKind kind{"straight-150", make_gauge(0.2, 150, 2, 1), {}};
        kind.truth.volume_excess_percent = -1.8;
        kind.truth.a_excess_percent = 1.5;
        kind.truth.tip_scatter_percent = 0.8;
        kind.truth.movement_time_s = 0.40;
        kind.truth.wetting_mL = 1.5;
        kinds.push_back(kind);
    }
    {
        // 200 mm, 0.2 mm: 6.28 mL a tip, heavier bucket, slower.
        VirtualKind kind{"straight-200", make_gauge(0.2, 200, 2, 2), {}};
        kind.truth.volume_excess_percent = -2.2;
        kind.truth.a_excess_percent = 0.8;
        kind.truth.tip_scatter_percent = 0.5;
        kind.truth.movement_time_s = 0.45;
        kind.truth.wetting_mL = 2.5;
        kinds.push_back(kind);
    }
    {
        // 200 mm, 0.2 mm behind a siphon: bucket filled at 5 mL/s whatever the rain, so that the loss of
        // 5 mL/s * 0.30 s = 1.5 mL a tip is nearly always the same and V0 is set that much lower. Now and
        // then a slug of about two tips ends in the middle of a movement: that tip is smaller.
        VirtualKind kind{"siphon-200", make_gauge(0.2, 200, 2, 2), {}};
        kind.gauge.inlet = calib::Inlet::siphon;
        kind.gauge.siphon_volume_mL = 13;
        kind.truth.volume_excess_percent = -23.2;
        kind.truth.a_excess_percent = 1.0;
        kind.truth.tip_scatter_percent = 0.6;
        kind.truth.movement_time_s = 0.30;
        kind.truth.siphon_volume_mL = 13.1;
        kind.truth.siphon_flow_mL_s = 5;
        kind.truth.siphon_scatter_percent = 4;
        kind.truth.funnel_lag_s = 2;
        kind.truth.wetting_mL = 3;
        kinds.push_back(kind);
    }
    {
        // Spoon held by a magnet, 160 mm (201 cm2), 0.1 mm: 2.01 mL a tip; the inflow holds the spoon down
        // ever longer: at 200 mm/h (1.1 mL/s) 0.45 s, at 500 mm/h (2.8 mL/s) 0.7 s.
        VirtualKind kind{"spoon-160", make_gauge(0.1, 160, 1, 2), {}};
        kind.gauge.contacts[1].normally_closed = true;
        kind.truth.volume_excess_percent = -2;
        kind.truth.tip_scatter_percent = 0.7;
        kind.truth.movement_time_s = 0.28;
        kind.truth.movement_growth_s2_mL = 0.15;
        kind.truth.closure_s = 0.06;
        kind.truth.wetting_mL = 1.5;
        kind.truth.splash_percent_per_mL_s = 0.02;
        kinds.push_back(kind);
    }
    {
        // Small catch, 100 mm, 0.2 mm: 1.57 mL a tip, spoon.
        VirtualKind kind{"spoon-100", make_gauge(0.2, 100, 1, 1), {}};
        kind.truth.volume_excess_percent = -1;
        kind.truth.tip_scatter_percent = 1.2;
        kind.truth.movement_time_s = 0.30;
        kind.truth.movement_growth_s2_mL = 0.12;
        kind.truth.closure_s = 0.06;
        kind.truth.wetting_mL = 0.8;
        kinds.push_back(kind);
    }
    return kinds;
}

// A quiet bench: no error but those a test sets.
inline calib::BenchMetrology perfect_metrology() {
    calib::BenchMetrology m;
    m.balance.repeatability_g = 0;
    m.balance.linearity_half_width_g = 0;
    m.balance.calibration_relative_u = 0;
    m.balance.drift_relative_half_width = 0;
    m.balance.zero_drift_half_width_g_h = 0;
    m.evaporation_g_h = {0, 0, calib::infinite_dof};
    m.residual_u_g = 0;
    m.clock_relative_u = 0;
    m.edge_time_u_s = 0;
    m.water_temperature_u_C = 0;
    m.air_temperature_u_C = 0;
    m.air_pressure_u_hPa = 0;
    m.relative_humidity_u_percent = 0;
    return m;
}

}  // namespace tipwright::test
