#include "report/register/audit.hpp"

#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

AuditHead read_head(Database& database, const char* sql) {
    const std::optional<Row> row = database.row(sql, "itt");
    if (!row)
        throw Stop{
            {FaultCode::damaged, "the audit log has no head", database.where(), "restore the last backup"}};
    return {row->integer(0), row->text(1), row->text(2)};
}

}  // namespace

std::string audit_hash(const std::string& before, const AuditEntry& entry) {
    seal::Sha256 digest;
    digest.add(before);
    for (const std::string& field : {std::to_string(entry.seq), entry.at, entry.person, entry.action,
                                     entry.subject, std::to_string(entry.subject_id), entry.detail}) {
        digest.add(std::to_string(field.size()) + ":");
        digest.add(field);
    }
    return seal::to_base64(digest.bytes());
}

AuditHead lock_audit_head(Database& database) {
    return read_head(database, database.dialect() == Dialect::sqlite
                                   ? "SELECT seq, at, hash FROM audit_head WHERE id = 1"
                                   : "SELECT seq, at, hash FROM audit_head WHERE id = 1 FOR UPDATE");
}

AuditHead read_audit_head(Database& database) {
    return read_head(database, "SELECT seq, at, hash FROM audit_head WHERE id = 1");
}

void append_audit(Database& database, AuditHead& head, AuditEntry entry) {
    entry.seq = head.seq + 1;
    entry.hash = audit_hash(head.hash, entry);
    database.run(
        "INSERT INTO audit (seq, at, person, action, subject, subject_id, detail, hash) "
        "VALUES (:p1, :p2, :p3, :p4, :p5, :p6, :p7, :p8)",
        {entry.seq, entry.at, entry.person, entry.action, entry.subject, entry.subject_id, entry.detail,
         entry.hash});
    database.run("UPDATE audit_head SET seq = :p1, at = :p2, hash = :p3 WHERE id = 1",
                 {entry.seq, entry.at, entry.hash});
    head = {entry.seq, entry.at, entry.hash};
}

}  // namespace tipwright::report
