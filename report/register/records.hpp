// What certificates need of records. Private to report/register.
#pragma once

#include <string>
#include <string_view>

#include "calib/decision/conformity.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

// Day of the measurement; throws Stop when the record names none.
std::string calibrated_on(const Record& record);
// The calibration an instrument rested on, entered if it is new.
Id calibration_of(Writer& writer, const InstrumentUsed& used, const std::string& bench);

}  // namespace tipwright::report
