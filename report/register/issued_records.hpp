// An issued record against the stored one that it rests on: issuing gives it number, date and who authorises,
// takes over from the order what the record does not say of the gauge as it came, from the log that its
// limits were confirmed, and may note that reservations were accepted. All else is as it was measured and
// checked. Made for an inspection. Private to report/register.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <utility>

#include "report/register/certificates.hpp"

namespace tipwright::report {

class IssuedRecords {
public:
    // Of the log: which limits were confirmed, by whom, how.
    void take(const AuditEntry& entry);
    // Why the one cannot have been issued of the other. Both are JSON.
    std::optional<std::string> unlike(const std::string& issued, const std::string& stored,
                                      const Certificate& certificate,
                                      const std::optional<Order>& order) const;

private:
    std::set<std::pair<std::string, std::string>> confirmed_;  // fingerprint of limits, what it adds to them
};

}  // namespace tipwright::report
