// Inspecting the register: everything that can be checked is, and every fault is one line.
#include <algorithm>
#include <map>
#include <unordered_map>

#include "calib/base/dates.hpp"
#include "report/files/fingerprint.hpp"
#include "report/register/certificate_lives.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/foreign_schema.hpp"
#include "report/register/foreign_triggers.hpp"
#include "report/register/issued_records.hpp"
#include "report/register/log_state.hpp"
#include "report/register/maintenance.hpp"
#include "report/register/migrations.hpp"
#include "report/register/number_series.hpp"
#include "report/seal/lines.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t max_faults = 100;

using RowName = std::pair<const TableShape*, Id>;

struct RowNameHash {
    std::size_t operator()(const RowName& row) const {
        return std::hash<const void*>()(row.first) * 31 + std::hash<Id>()(row.second);
    }
};

class Inspector {
public:
    Inspector(Register::Impl& impl, const seal::PublicKeys* keys, std::string issued_numbers)
        : impl_(impl), keys_(keys), issued_numbers_(std::move(issued_numbers)) {}

    InspectionReport run() {
        database_itself();
        audit_chain();
        log_seals();
        numbers();
        numbers_given();
        rows();
        due_dates();
        certificates();
        records();
        strays();
        return std::move(report_);
    }

private:
    TellFault told_here() {
        return [this](Fault found) {
            fault(found.code, std::move(found.what), std::move(found.where), std::move(found.remedy));
        };
    }

    // What is wrong with a certificate is told once, though each of its documents shows it.
    void fault(FaultCode code, std::string what, std::string where, std::string remedy = {}) {
        Fault found{code, std::move(what), std::move(where), std::move(remedy)};
        const auto told = [&](const Fault& earlier) { return earlier.line() == found.line(); };
        if (report_.faults.size() < max_faults &&
            std::none_of(report_.faults.begin(), report_.faults.end(), told))
            report_.faults.push_back(std::move(found));
    }

    void database_itself() {
        for (const auto& foreign : {foreign_schema(*impl_.database), foreign_triggers(*impl_.database)})
            for (const Fault& one : foreign) fault(one.code, one.what, one.where);
        if (impl_.database->dialect() != Dialect::sqlite) return;
        for (const Row& row : impl_.database->rows("PRAGMA integrity_check(20)", "t"))
            if (row.text(0) != "ok") fault(FaultCode::damaged, row.text(0), impl_.database->where());
        for (const Row& row : impl_.database->rows("PRAGMA foreign_key_check", "ti"))
            fault(FaultCode::damaged, "a row of " + row.text(0) + " refers to none", impl_.database->where());
    }

    void audit_chain() {
        chain_.walk(*impl_.database, told_here(), [&](const AuditEntry& entry) {
            if (const TableShape* shape = shape_of_subject(entry.subject))
                last_[{shape, entry.subject_id}] = short_state(entry.state);
            if (std::string accepted = accepted_in(entry);
                !accepted.empty() && report_.accepted.size() < max_faults)
                report_.accepted.push_back(std::move(accepted));
            lives_.take(entry);
            issued_records_.take(entry);
        });
        report_.audit_entries = chain_.entries();
        report_.audit_head = chain_.head();
    }

    void log_seals() {
        seals_.walk(*impl_.database, keys_, 1, chain_.must_be_sealed(), told_here());
        for (const auto& [seq, why] : seals_.out_of_time()) fault(why.code, why.what, why.where, why.remedy);
        report_.sealed_entries = seals_.sealed_entries();
        report_.sealed_at = seals_.sealed_at();
    }

    // Against the note beside the keys.
    void numbers_given() {
        if (issued_numbers_.empty() || keys_ == nullptr) return;
        IssuedNumbers numbers;
        try {
            numbers = IssuedNumbers::read(issued_numbers_, *keys_);
        } catch (const Stop& unread) {
            return fault(unread.fault.code, unread.fault.what, unread.fault.where, unread.fault.remedy);
        }
        const auto found = numbers.logs.find(register_id(*impl_.database));
        if (found == numbers.logs.end()) {
            if (seals_.sealed_entries() > 0)
                fault(FaultCode::damaged, not_noted(seals_.sealed_entries()), "audit log",
                      "bring back the newer note from a copy, or seal the log, which notes it: tipwright "
                      "register seal");
            return;
        }
        if (!still_holds(*impl_.database, found->second))
            fault(FaultCode::damaged, lacks(found->second), "audit log");
        else
            series_given(numbers);
        if (numbers.begun && numbers.begun->reg == found->first)
            report_.accepted.push_back(
                "certificates up to " +
                number_text(numbers.begun->bench, numbers.begun->year, numbers.begun->last) +
                " were about to be given when an issue was cut off, or could not note its end; the next one "
                "goes on after them");
    }

    // Only where no other register is sealed with these keys: it may have given the rest.
    void series_given(const IssuedNumbers& numbers) {
        std::map<std::pair<std::string, std::int64_t>, std::int64_t> noted = numbers.last;
        for (const NumberSeries& series : rows_where<NumberSeries>(*impl_.database, "ORDER BY t.id"))
            noted.try_emplace({series.bench, series.year}, 0);
        for (const auto& [series, last] : noted) {
            const auto& [bench, year] = series;
            const std::string where = "numbers " + bench + "-" + std::to_string(year);
            const std::int64_t known = last_number(*impl_.database, bench, year);
            if (const std::string behind = numbers.behind(bench, year, known); !behind.empty())
                fault(FaultCode::damaged, behind, where,
                      "seal the log, which notes them: tipwright register seal");
            if (known < last && numbers.logs.size() == 1)
                fault(FaultCode::damaged,
                      "given up to " + std::to_string(last) +
                          ", says the note beside the keys; the register "
                          "knows them up to " +
                          std::to_string(known),
                      where);
        }
    }

    void numbers() {
        impl_.database->each(
            "SELECT s.bench, s.year, count(*), max(c.sequence), min(c.sequence), (SELECT "
            "coalesce(sum(p.last_number - p.first_number + 1), 0) FROM number_gaps p JOIN number_series q ON "
            "q.id = "
            "p.series_id WHERE q.bench = s.bench AND q.year = s.year) FROM certificates c JOIN number_series "
            "s ON "
            "s.id = c.series_id GROUP BY s.bench, s.year ORDER BY s.bench, s.year",
            "tiiiii", {}, [&](const Row& row) {
                if (row.integer(2) + row.integer(5) != row.integer(3) ||
                    (row.integer(4) != 1 && row.integer(5) == 0))
                    fault(FaultCode::damaged,
                          std::to_string(row.integer(2)) + " certificates, numbered up to " +
                              std::to_string(row.integer(3)),
                          "numbers " + row.text(0) + "-" + std::to_string(row.integer(1)));
            });
        impl_.database->each(
            "SELECT s.bench, s.year, c.sequence FROM certificates c JOIN number_series s ON s.id = "
            "c.series_id "
            "GROUP BY s.bench, s.year, c.sequence HAVING count(*) > 1",
            "tii", {}, [&](const Row& row) {
                fault(FaultCode::duplicate, "two certificates bear this number",
                      "certificate " + number_text(row.text(0), row.integer(1), row.integer(2)));
            });
    }

    void rows() {
        for (const TableShape* shape : all_shapes()) {
            if (shape->subject.empty()) continue;
            each_state(*impl_.database, *shape, [&](Id id, const std::string& state) {
                const auto found = last_.find({shape, id});
                if (found == last_.end() || found->second != short_state(state))
                    fault(FaultCode::damaged, "is not what the audit log says was entered last",
                          shape->subject + " " + std::to_string(id));
                if (found != last_.end()) last_.erase(found);
            });
        }
        for (const auto& [row, state] : last_)
            fault(FaultCode::damaged, "was entered, says the audit log, but is not there",
                  row.first->subject + " " + std::to_string(row.second));
        for (const TableShape* shape : all_shapes())
            if (!shape->part_of.empty())
                for (const Row& row : impl_.database->rows(
                         "SELECT certificate_id FROM " + shape->name +
                             " WHERE certificate_id NOT IN (SELECT id FROM certificates) LIMIT 20",
                         "i"))
                    fault(FaultCode::damaged, "belongs to no certificate",
                          shape->name + " " + std::to_string(row.integer(0)));
    }

    void due_dates() {
        impl_.database->each(
            "SELECT g.id, g.last_calibrated_on, g.due_on, " + std::string(last_calibration_sql) +
                ", coalesce(g.interval_months, u.interval_months) FROM gauges g LEFT JOIN customers u ON "
                "u.id "
                "= g.customer_id ORDER BY g.id",
            "ittti", {}, [&](const Row& row) {
                const std::string due = row.null(3) || row.null(4) || !is_iso_date(row.text(3))
                                            ? ""
                                            : add_months(row.text(3), static_cast<int>(row.integer(4)));
                if (row.text(1) != row.text(3) || row.text(2) != due ||
                    (!row.null(2) && row.text(2).empty()) || (!row.null(1) && row.text(1).empty()))
                    fault(
                        FaultCode::damaged,
                        "its last calibration or due date does not follow from its certificates and interval",
                        "gauge " + std::to_string(row.integer(0)));
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
            Certificate certificate;
            try {
                certificate = read_certificate(*impl_.database, id);
            } catch (const Stop& unread) {
                if (unread.fault.code == FaultCode::database_unreachable) throw;
                fault(FaultCode::damaged, "what it refers to is not there: " + unread.fault.what,
                      "certificate " + std::to_string(id));
                continue;
            }
            const std::string where = "certificate " + certificate.number;
            ++report_.certificates;
            report_.checked_by_login += lives_.checked_by_login(id) ? 1 : 0;
            if (const auto why = lives_.lacking(*impl_.database, id)) fault(FaultCode::damaged, *why, where);
            std::string record, as_found, pdf, xml;
            document(certificate.record_sha256, where, &record);
            if (!certificate.as_found_sha256.empty()) document(certificate.as_found_sha256, where, &as_found);
            document(certificate.pdf_sha256, where, &pdf);
            if (!certificate.xml_sha256.empty()) document(certificate.xml_sha256, where, &xml);
            for (const NamedDocument& other : certificate.others) document(other.sha256, where);
            // With two records the second is the one as found.
            const Id last = certificate.as_left != 0 ? certificate.as_left : certificate.as_found;
            rests_on(certificate, record, last, where);
            if (!certificate.as_found_sha256.empty())
                rests_on(certificate, as_found, certificate.as_found, where);
            if (keys_ == nullptr) continue;
            if (Outcome good = seal::check_record(*certificate.seal, *keys_, record, as_found); !good)
                fault(good.fault().code, good.fault().what, where);
            for (const std::string* file : {&pdf, &xml})
                if (!file->empty())
                    if (Result<seal::FileSeal> good = seal::check_file(*file, *keys_, where); !good)
                        fault(good.fault().code, good.fault().what, where);
        }
    }

    void rests_on(const Certificate& certificate, const std::string& issued, Id record,
                  const std::string& where) {
        if (issued.empty()) return;  // told already
        std::string stored;
        const std::string name = "record " + std::to_string(record);
        const std::optional<Row> row =
            impl_.database->row("SELECT sha256 FROM records WHERE id = :p1", "t", {record});
        if (!row) return fault(FaultCode::damaged, "rests on " + name + ", which is not there", where);
        document(digest_of(row->text(0)), name, &stored);
        --report_.documents;  // it is counted with the records
        if (stored.empty()) return;
        const auto order = row_where<Order>(*impl_.database, "t.id = :p1", {certificate.order});
        if (const auto why = issued_records_.unlike(issued, stored, certificate, order))
            fault(FaultCode::damaged, *why + " (" + name + ")", where);
    }

    void records() {
        for (Id after = 0;;) {
            const std::vector<Row> page = impl_.database->rows(
                "SELECT id, sha256 FROM records WHERE id > :p1 ORDER BY id LIMIT 1000", "it", {after});
            for (const Row& row : page) {
                after = row.integer(0);
                const std::string where = "record " + std::to_string(after);
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
    std::string issued_numbers_;
    std::unordered_map<RowName, ShortState, RowNameHash> last_;
    ChainWalk chain_;
    SealWalk seals_;
    CertificateLives lives_;
    IssuedRecords issued_records_;
};

}  // namespace

Result<InspectionReport> Register::inspect(const seal::PublicKeys* keys, const std::string& issued_numbers) {
    return snapshot(*impl_, [&] { return Inspector(*impl_, keys, issued_numbers).run(); });
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
