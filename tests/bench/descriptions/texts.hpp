// Valid descriptions for the tests of this folder, and a way to spoil one line of them.
#pragma once

#include <catch2/catch.hpp>
#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "tests/support/paths.hpp"

namespace tipwright::test {

using namespace bench;

inline const std::string templates = tipwright::test::source_dir() + "/templates";

// text with the first occurrence of `from` replaced; `from` must be there.
inline std::string changed(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

inline const std::string kind_text = R"(title = "Twin bucket"
[gauge]
nominal_tip_mm = 0.2
catch_diameter_mm = 200
catch_diameter_u_mm = 0.15
compartments = 2
inlet = "straight"
contacts = ["normally open", "normally closed"]
debounce_s = 0.25
max_intensity_mm_h = 500
[virtual]
movement_time_s = 0.45
)";

inline const std::string gauge_text = R"(kind = "twin"
model = "M"
serial = "4711"
received_on = 2026-03-02
[customer]
name = "C"
[gauge]
catch_diameter_mm = 200.06
catch_diameter_u_mm = 0.06
)";

inline const std::string plan_text = R"(title = "Two points"
target_U_percent = 1.0
[[step]]
intensity_mm_h = 10
min_tips = 12
time_limit_s = 3600
[[step]]
intensity_mm_h = 100
min_tips = 40
time_limit_s = 1800
[limits]
name = "ours"
source = "agreed with the customer"
[[limits.row]]
from_mm_h = 0
to_mm_h = 50
low_percent = -3
high_percent = 3
[[limits.row]]
from_mm_h = 50
to_mm_h = 300
low_percent = -5
high_percent = 5
[decision]
rule = "guard band"
)";

inline const std::string bench_text = R"(title = "Bench"
[laboratory]
name = "L"
[vessel]
capacity_g = 2500
[pump]
max_flow_mL_min = 300
[[instrument]]
role = "balance"
profile = "p"
link = "serial /dev/ttyUSB0"
description = "d"
calibrated_on = 2026-02-10
due_on = 2027-02-10
[[instrument]]
role = "pump"
profile = "p"
link = "tcp 192.0.2.10:4001"
description = "d"
[[instrument]]
role = "counter"
profile = "p"
link = "pty /dev/pts/3"
description = "d"
[[instrument]]
role = "climate"
profile = "p"
link = "virtual"
description = "d"
[metrology]
evaporation_g_h = 0.15
evaporation_u_g_h = 0.04
residual_u_g = 0.02
discharge_lag_s = 0.8
discharge_delay_s = 0.4
clock_relative_u = 1e-5
edge_time_u_s = 0.0005
water_temperature_u_C = 0.15
air_temperature_u_C = 0.25
air_pressure_u_hPa = 0.5
relative_humidity_u_percent = 3
[metrology.balance]
resolution_g = 0.01
repeatability_g = 0.008
repeatability_dof = 9
linearity_half_width_g = 0.02
calibration_relative_u = 5e-6
drift_relative_half_width = 1.5e-5
zero_drift_half_width_g_h = 0.02
capacity_g = 4100
[virtual]
water_temperature_C = 20.5
)";

inline std::string gauge_line(const std::string& gauge, const std::string& kind = kind_text) {
    const auto read = parse_gauge({"my.toml", gauge}, {"twin.toml", kind});
    return read ? std::string("accepted") : read.fault().line();
}
inline std::string kind_line(const std::string& kind) {
    const auto read = parse_gauge({}, {"twin.toml", kind});
    return read ? std::string("accepted") : read.fault().line();
}
inline std::string plan_line(const std::string& plan) {
    const auto read = parse_plan({"plan.toml", plan});
    return read ? std::string("accepted") : read.fault().line();
}
inline std::string bench_line(const std::string& bench) {
    const auto read = parse_bench({"bench.toml", bench});
    return read ? std::string("accepted") : read.fault().line();
}

}  // namespace tipwright::test
