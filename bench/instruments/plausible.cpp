#include "bench/instruments/plausible.hpp"

namespace tipwright::bench {

namespace {

struct ClimateField {
    std::string_view name;
    double low;
    double high;
    double ClimateReading::*member;
    double factor;
};

constexpr ClimateField climate_fields[] = {
    {"water_temperature_C", -10, 100, &ClimateReading::water_temperature_C, 1},
    {"air_temperature_C", -60, 80, &ClimateReading::air_temperature_C, 1},
    {"air_pressure_hPa", 300, 1200, &ClimateReading::air_pressure_hPa, 1},
    {"air_pressure_kPa", 30, 120, &ClimateReading::air_pressure_hPa, 10},
    {"relative_humidity_percent", 0, 105, &ClimateReading::relative_humidity_percent, 1},
};

// Far above any pump for rain gauges: a larger number is a slip.
constexpr double flow_limit_mL_min = 100000;

}  // namespace

bool set_climate(ClimateReading& reading, std::string_view field, double value) {
    for (const ClimateField& known : climate_fields) {
        if (known.name != field) continue;
        reading.*known.member = value * known.factor;
        return value >= known.low && value <= known.high;
    }
    return false;
}

Outcome check_flow(double flow_mL_min, const std::string& pump) {
    if (flow_mL_min >= 0 && flow_mL_min <= flow_limit_mL_min) return Done{};
    return Fault{FaultCode::bad_value, "a flow of " + std::to_string(flow_mL_min) + " mL/min cannot be set",
                 pump, ""};
}

}  // namespace tipwright::bench
