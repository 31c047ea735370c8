// Inspecting the register: everything that can be checked is, and every fault is one line.
#include <cstring>
#include <map>

#include "report/files/fingerprint.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/maintenance.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_faults = 100;
constexpr std::int64_t audit_page = 5000;

// First 8 bytes of the digest of an entry's detail: a whole detail for each of a million rows is too much to
// hold.
std::uint64_t short_digest(const std::string& text) {
    seal::Sha256 digest;
    digest.add(text);
    const std::string bytes = digest.bytes();
    std::uint64_t out = 0;
    std::memcpy(&out, bytes.data(), sizeof out);
    return out;
}

class Inspector {
public:
    Inspector(Register::Impl& impl, const seal::PublicKeys* keys) : impl_(impl), keys_(keys) {}

    InspectionReport run() {
        database_itself();
        audit_chain();
        numbers();
        rows();
        certificates();
        records();
        strays();
        return std::move(report_);
    }

private:
    void fault(FaultCode code, std::string what, std::string where) {
        if (report_.faults.size() < max_faults)
            report_.faults.push_back({code, std::move(what), std::move(where), ""});
    }

    void database_itself() {
        if (impl_.database->dialect() != Dialect::sqlite) return;
        for (const Row& row : impl_.database->rows("PRAGMA integrity_check(20)", "t"))
            if (row.text(0) != "ok") fault(FaultCode::damaged, row.text(0), impl_.database->where());
        for (const Row& row : impl_.database->rows("PRAGMA foreign_key_check", "ti"))
            fault(FaultCode::damaged, "a row of " + row.text(0) + " refers to none", impl_.database->where());
    }

    void audit_chain() {
        std::string before;
        std::int64_t seq = 0;
        for (;;) {
            const std::vector<Row> page = impl_.database->rows(
                "SELECT seq, at, person, action, subject, subject_id, detail, hash FROM audit WHERE seq > "
                ":p1 "
                "ORDER BY seq LIMIT :p2",
                "ittttitt", {seq, audit_page});
            for (const Row& row : page) {
                const AuditEntry entry{row.integer(0), row.text(1),    row.text(2), row.text(3),
                                       row.text(4),    row.integer(5), row.text(6), row.text(7)};
                const std::string where = "audit entry " + std::to_string(entry.seq);
                if (entry.seq != seq + 1)
                    fault(FaultCode::damaged, "the entries before it are missing", where);
                if (audit_hash(before, entry) != entry.hash)
                    fault(FaultCode::damaged, "the entry, or one before it, was changed", where);
                before = entry.hash;
                seq = entry.seq;
                ++report_.audit_entries;
                last_[{entry.subject, entry.subject_id}] = short_digest(entry.detail);
                if (entry.action == "issue") issued_[entry.subject_id] = short_digest(entry.detail);
            }
            if (page.size() < static_cast<std::size_t>(audit_page)) break;
        }
        const AuditHead head = read_audit_head(*impl_.database);
        if (head.seq != seq || head.hash != before)
            fault(FaultCode::damaged, "the audit log does not end where its head says", "audit log");
        report_.audit_head = before;
    }

    void numbers() {
        impl_.database->each(
            "SELECT s.bench, s.year, count(*), max(c.sequence), min(c.sequence) FROM certificates c "
            "JOIN number_series s ON s.id = c.series_id GROUP BY s.bench, s.year ORDER BY s.bench, s.year",
            "tiiii", {}, [&](const Row& row) {
                if (row.integer(2) != row.integer(3) || row.integer(4) != 1)
                    fault(FaultCode::damaged,
                          std::to_string(row.integer(2)) + " certificates, numbered up to " +
                              std::to_string(row.integer(3)),
                          "numbers " + row.text(0) + "-" + std::to_string(row.integer(1)));
            });
    }

    void rows() {
        each_detail(*impl_.database, [&](const std::string& subject, Id id, const std::string& detail) {
            const auto found = last_.find({subject, id});
            if (found == last_.end() || found->second != short_digest(detail))
                fault(FaultCode::damaged, "is not what the audit log says was entered last",
                      subject + " " + std::to_string(id));
        });
    }

    void document(const std::string& sha256, const std::string& where, std::string* bytes = nullptr) {
        try {
            std::string found = impl_.documents->get(sha256);
            ++report_.documents;
            if (bytes != nullptr) *bytes = std::move(found);
        } catch (const Stop& bad) {
            if (bad.fault.code == FaultCode::database_unreachable) throw;
            fault(bad.fault.code, bad.fault.what + " (" + sha256.substr(0, 16) + "...)", where);
        }
    }

    void certificates() {
        std::vector<Id> ids;
        impl_.database->each("SELECT id FROM certificates WHERE state = 'issued' ORDER BY id", "i", {},
                             [&](const Row& row) { ids.push_back(row.integer(0)); });
        for (const Id id : ids) {
            const Certificate certificate = read_certificate(*impl_.database, id);
            const std::string where = "certificate " + certificate.number;
            ++report_.certificates;
            const std::string said = Detail()
                                         .text("number", certificate.number)
                                         .text("sha256", certificate_digest(*impl_.database, id))
                                         .json();
            const auto entry = issued_.find(id);
            if (entry == issued_.end() || entry->second != short_digest(said))
                fault(FaultCode::damaged, "is not what the audit log says was issued", where);
            std::string record, as_found, pdf, xml;
            document(certificate.record_sha256, where, &record);
            if (!certificate.as_found_sha256.empty()) document(certificate.as_found_sha256, where, &as_found);
            document(certificate.pdf_sha256, where, &pdf);
            if (!certificate.xml_sha256.empty()) document(certificate.xml_sha256, where, &xml);
            for (const NamedDocument& other : certificate.others) document(other.sha256, where);
            if (keys_ == nullptr) continue;
            if (Outcome good = seal::check_record(*certificate.seal, *keys_, record, as_found,
                                                  date_of(certificate.issued_at));
                !good)
                fault(good.fault().code, good.fault().what, where);
            for (const std::string* file : {&pdf, &xml})
                if (!file->empty())
                    if (Result<seal::FileSeal> good =
                            seal::check_file(*file, *keys_, where, date_of(certificate.issued_at));
                        !good)
                        fault(good.fault().code, good.fault().what, where);
        }
        for (const auto& [id, digest] : issued_)
            if (!impl_.database->row("SELECT id FROM certificates WHERE id = :p1 AND state = 'issued'", "i",
                                     {id}))
                fault(FaultCode::damaged, "was issued, says the audit log, but is not there",
                      "certificate row " + std::to_string(id));
    }

    void records() {
        for (Id after = 0;;) {
            const std::vector<Row> page = impl_.database->rows(
                "SELECT id, sha256 FROM records WHERE id > :p1 ORDER BY id LIMIT 1000", "it", {after});
            for (const Row& row : page) {
                after = row.integer(0);
                const std::string where = "record " + std::to_string(after);
                const std::string said = detail_of_record(*impl_.database, after);
                const auto found = last_.find({"record", after});
                if (found == last_.end() || found->second != short_digest(said))
                    fault(FaultCode::damaged, "is not what the audit log says was entered", where);
                document(digest_of(row.text(1)), where);
            }
            if (page.size() < 1000) return;
        }
    }

    void strays() {
        const NamedDocuments named(*impl_.database);
        impl_.documents->each([&](const std::string& name) {
            if (!named.has(name)) ++report_.stray_documents;
        });
    }

    Register::Impl& impl_;
    const seal::PublicKeys* keys_;
    InspectionReport report_;
    std::map<std::pair<std::string, Id>, std::uint64_t> last_;
    std::map<Id, std::uint64_t> issued_;
};

}  // namespace

Result<InspectionReport> Register::inspect(const seal::PublicKeys* keys) {
    return snapshot(*impl_, [&] { return Inspector(*impl_, keys).run(); });
}

Outcome Register::tidy(const Actor& actor) {
    return written(*impl_, actor, Permission::issue, [&](Writer& writer) {
        const NamedDocuments named(writer.database);
        std::vector<std::string> strays;
        impl_->documents->each([&](const std::string& name) {
            if (!named.has(name)) strays.push_back(name);
        });
        for (const std::string& name : strays) impl_->documents->remove(name);
        impl_->documents->sweep();
        writer.log("tidy", "documents", 0,
                   Detail().integer("removed", static_cast<std::int64_t>(strays.size())).json());
        return Done{};
    });
}

}  // namespace tipwright::report
