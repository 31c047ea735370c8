// What certificates need of records. Private to report/register.
#pragma once

#include <string>
#include <string_view>

#include "calib/decision/conformity.hpp"
#include "report/register/certificates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

// Day of the measurement; throws Stop when the record names none.
std::string calibrated_on(const Record& record);
// What a record used, as the register knows instruments.
InstrumentEntry instrument_of(const InstrumentUsed& used, const std::string& bench);
// The calibration an instrument rested on, entered if it is new.
Id calibration_of(Writer& writer, const InstrumentUsed& used, const std::string& bench);

// Throws Stop where one of a record's instruments was found faulty, and neither known to be good on that day
// nor calibrated since (ISO/IEC 17025:2017, 6.4.9).
void rests_on_sound_instruments(Database& database, const Record& record, const RecordRow& row,
                                const std::string& where);

}  // namespace tipwright::report
