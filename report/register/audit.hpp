// Audit log: one entry a write, each bound to the one before it by
//   hash(n) = base64(SHA-256(hash(n-1) field(1) field(2) ...)),  field = length ":" bytes
// over seq, at, person, action, subject, subject_id, detail, state. `state` is the digest of all columns of
// the row that the entry speaks of, as the write left it (rows.hpp), so a row that was changed, deleted or
// added outside the register differs from its last entry. detail is JSON of what was written, for people.
// Whoever recomputes the whole chain is told by the laboratory's seals: signatures under the head, made at
// each issue and by `register seal`. Private to report/register.
#pragma once

#include <string>
#include <string_view>

#include "report/register/rows.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::report {

std::string audit_hash(const std::string& before, const AuditEntry& entry);

// Locks the head until the transaction ends, so that writers line up.
AuditHead lock_audit_head(Database& database);
AuditHead read_audit_head(Database& database);
// Appends at the head and moves it. `entry` comes without seq and hash.
void append_audit(Database& database, AuditHead& head, AuditEntry entry);
// Whether the log holds this very entry.
bool log_holds(Database& database, std::int64_t seq, const std::string& hash);
// Tells one register from another, also after a restore: the hash of its first entry; empty: none yet.
std::string register_id(Database& database);

// Logged before the log is sealed for its own sake, not at an issue.
constexpr std::string_view sealing_action = "seal";
// The laboratory's seal under the head.
void seal_head(Database& database, const AuditHead& head, const std::string& now,
               const seal::SigningKey& key);
// Why a seal does not fit; nothing when it does.
std::optional<std::string> unfit_seal(const LogSeal& seal, const seal::PublicKeys& keys);

}  // namespace tipwright::report
