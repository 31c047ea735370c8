// Limits that somebody compared with the current edition of their source: kept in the register's log, found
// again by their numbers. Private to report/register.
#pragma once

#include <optional>
#include <string>
#include <utility>

#include "calib/base/plan.hpp"
#include "report/record/record.hpp"
#include "report/register/database.hpp"
#include "report/register/stored.hpp"

namespace tipwright::report {

struct LimitsConfirmation {
    std::string edition;  // the document that was at hand
    std::string by;
    std::string on;
};
// Name, source and rows of limits, as confirmations name them; what is known of a population is no limit.
std::string fingerprint_of(const calib::Limits& limits);
// What a confirmation adds to their source.
std::string note_of(const LimitsConfirmation& confirmation);
// What an entry of the log confirms: fingerprint and confirmation; nothing when it confirms none.
std::optional<std::pair<std::string, LimitsConfirmation>> confirmation_in(const AuditEntry& entry);
// The last one of these very limits.
std::optional<LimitsConfirmation> confirmation_of(Database& database, const calib::Limits& limits);

// Where the record's verdict rests on limits that it calls not confirmed: takes over the register's
// confirmation into their source, or throws Stop. Demonstrations keep their reservation.
void confirm_limits_of(Database& database, Record& record, const std::string& where);

}  // namespace tipwright::report
