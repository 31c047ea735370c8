// Which entry of the register is meant by a name or a serial number.
#pragma once

#include "bench/program/register/session.hpp"

namespace tipwright::program {

// How the note of a gauge begins that is invented, for trials: what comes of it says so.
inline constexpr const char* invented_note = "invented";

// The one gauge, or instrument, that is meant. Fault: unknown_field, bad_value (several: say which).
Result<report::GaugeEntry> gauge_meant(report::Register& reg, const std::string& serial,
                                       const std::string& model);
Result<report::InstrumentEntry> instrument_meant(report::Register& reg, const std::string& serial,
                                                 const std::string& role);

// An id of 0 for an empty name. Fault: unknown_field.
Result<report::Id> customer_meant(report::Register& reg, const std::string& customer);

}  // namespace tipwright::program
