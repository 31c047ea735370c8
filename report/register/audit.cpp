#include "report/register/audit.hpp"

#include <sodium.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

using OrderedJson = nlohmann::ordered_json;

AuditHead read_head(Database& database, bool lock) {
    const bool wait = lock && database.dialect() == Dialect::postgresql;
    const std::vector<AuditHead> head =
        rows_where<AuditHead>(database, wait ? "WHERE t.one = 1 FOR UPDATE" : "WHERE t.one = 1");
    if (head.empty())
        throw Stop{
            {FaultCode::damaged, "the audit log has no head", database.where(), "restore the last backup"}};
    return head.front();
}

// What is signed; no other statement of the program begins like this.
std::string statement_of(const LogSeal& seal) {
    return "tipwright register log 1\n" + std::to_string(seal.id) + "\n" + std::to_string(seal.seq) + "\n" +
           seal.hash + "\n" + seal.at + "\n";
}

// Two registers begun in the same moment by the same person with the same words are still two.
std::string with_own_mark(const std::string& detail) {
    std::string mark(16, '\0');
    randombytes_buf(mark.data(), mark.size());
    OrderedJson object = OrderedJson::parse(detail.empty() ? "{}" : detail);
    object["register"] = seal::to_hex(mark);
    return object.dump();
}

}  // namespace

std::string audit_hash(const std::string& before, const AuditEntry& entry) {
    seal::Sha256 digest;
    digest.add(before);
    for (const std::string& field :
         {std::to_string(entry.seq), entry.at, entry.person, entry.action, entry.subject,
          std::to_string(entry.subject_id), entry.detail, entry.state}) {
        digest.add(std::to_string(field.size()) + ":");
        digest.add(field);
    }
    return seal::to_base64(digest.bytes());
}

AuditHead lock_audit_head(Database& database) {
    return read_head(database, true);
}

AuditHead read_audit_head(Database& database) {
    return read_head(database, false);
}

void append_audit(Database& database, AuditHead& head, AuditEntry entry) {
    entry.seq = head.seq + 1;
    if (entry.seq == 1) entry.detail = with_own_mark(entry.detail);
    entry.hash = audit_hash(head.hash, entry);
    store_row(database, entry);
    database.run("UPDATE audit_head SET seq = :p1, at = :p2, hash = :p3 WHERE one = 1",
                 {entry.seq, entry.at, entry.hash});
    head = {entry.seq, entry.at, entry.hash};
}

bool log_holds(Database& database, std::int64_t seq, const std::string& hash) {
    return row_where<AuditEntry>(database, "t.seq = :p1 AND t.hash = :p2", {seq, hash}).has_value();
}

std::string register_id(Database& database) {
    const auto first = row_where<AuditEntry>(database, "t.seq = :p1", {std::int64_t{1}});
    return first ? first->hash : std::string();
}

void seal_head(Database& database, const AuditHead& head, const std::string& now,
               const seal::SigningKey& key) {
    LogSeal seal;
    seal.id = 1 + database.row("SELECT coalesce(max(id), 0) FROM log_seals", "i")->integer(0);
    seal.seq = head.seq;
    seal.hash = head.hash;
    seal.at = now;
    seal.key_id = key.public_key().id;
    const seal::SignatureBytes signature = key.sign(statement_of(seal));
    seal.signature = seal::to_base64(std::string(signature.begin(), signature.end()));
    database.run(
        "INSERT INTO log_seals (id, seq, hash, at, key_id, signature) VALUES (:p1, :p2, :p3, :p4, :p5, :p6)",
        {seal.id, seal.seq, seal.hash, seal.at, seal.key_id, seal.signature});
}

std::optional<std::string> unfit_seal(const LogSeal& seal, const seal::PublicKeys& keys) {
    const seal::PublicKey* key = keys.find(seal.key_id);
    if (key == nullptr) return "is by key " + seal.key_id + ", which is not in the list";
    const std::optional<std::string> bytes = seal::from_base64(seal.signature);
    seal::SignatureBytes signature{};
    if (!bytes || bytes->size() != signature.size()) return "is no signature";
    std::copy(bytes->begin(), bytes->end(), signature.begin());
    if (!seal::verify(*key, statement_of(seal), signature)) return "was changed";
    return std::nullopt;
}

}  // namespace tipwright::report
