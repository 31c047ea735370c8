// Plausible: the limits outside which a number is no reading but a misread one, the same for all families.
#pragma once

#include <string>
#include <string_view>

#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

// Puts a quantity where it belongs: water_temperature_C, air_temperature_C, air_pressure_hPa or _kPa,
// relative_humidity_percent. False when air and water on earth cannot be so, or the field is none of these.
bool set_climate(ClimateReading& reading, std::string_view field, double value);

// Fault bad_value for a flow no pump could be meant to give.
Outcome check_flow(double flow_mL_min, const std::string& pump);

}  // namespace tipwright::bench
