// Audit log: one entry a write, each bound to the one before it by
//   hash(n) = base64(SHA-256(hash(n-1) field(1) field(2) ...)),  field = length ":" bytes
// over seq, at, person, action, subject, subject_id, detail. A changed, left out or inserted entry breaks the
// chain; cutting its end off is told by the head, and by the head's value noted elsewhere (every backup
// carries it). detail is JSON of what was written, so the log also shows what stood there before, and a row
// that was changed outside the register differs from its last entry. Private to report/register.
#pragma once

#include <string>

#include "report/register/database.hpp"

namespace tipwright::report {

struct AuditEntry {
    std::int64_t seq = 0;
    std::string at;
    std::string person;
    std::string action;   // "enter", "change", "draft", "check", "issue", ...
    std::string subject;  // "gauge", "certificate", ...
    std::int64_t subject_id = 0;
    std::string detail;
    std::string hash;
};

std::string audit_hash(const std::string& before, const AuditEntry& entry);

struct AuditHead {
    std::int64_t seq = 0;
    std::string at;
    std::string hash;
};

// Locks the head until the transaction ends, so that writers line up.
AuditHead lock_audit_head(Database& database);
AuditHead read_audit_head(Database& database);
// Appends at the head and moves it. `entry` comes without seq and hash.
void append_audit(Database& database, AuditHead& head, AuditEntry entry);

}  // namespace tipwright::report
