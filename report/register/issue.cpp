// Issuing: numbers, seals, documents, and one commit. The order is what makes it whole or nothing:
//   1. the number series is locked (SQLite: the register), so the next numbers are ours;
//   2. the records get number, date and who authorises; they are sealed; the documents are drawn;
//   3. writers line up; the log must hold (log_state.hpp); the documents are stored and flushed to the disk;
//   4. rows and audit entries are written, the log is sealed, and all is committed.
// A crash before 4 leaves drafts as they were, and at most documents that nothing names. Beside the keys it
// is noted before 4 that numbers are about to be given, and after 4 that they were (issued_numbers.hpp): a
// crash between the two leaves them out, for a register that stands as before may be a backup of that moment.
#include <algorithm>
#include <atomic>
#include <future>

#include "report/files/fingerprint.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/given_documents.hpp"
#include "report/register/limits.hpp"
#include "report/register/log_state.hpp"
#include "report/register/number_series.hpp"
#include "report/register/past.hpp"
#include "report/register/records.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

struct Job {
    Id id = 0;
    std::size_t place = 0;  // in the caller's list
    Certificate certificate;
    std::optional<RecordRow> found;
    std::optional<RecordRow> left;
    std::optional<Record> found_record;
    std::optional<Record> left_record;
    Id refers_to = 0;
    std::int64_t sequence = 0;
    IssueSheet sheet;
    Documents documents;
    std::string as_left_sha256, as_found_sha256, pdf_sha256, xml_sha256;
    std::vector<NamedDocument> others;
};

std::optional<Record> load_record(Register::Impl& impl, const std::optional<RecordRow>& row) {
    if (!row) return std::nullopt;
    return stored_record(impl, row->sha256, "record " + std::to_string(row->id));
}

// Everything a job needs from the register; throws Stop when the certificate may not be issued.
void prepare(Register::Impl& impl, const Actor& actor, const std::string& reason, Job& job) {
    Database& database = *impl.database;
    const std::string where = "certificate draft " + std::to_string(job.id);
    certificate_must_rest_on_the_log(database, job.id);
    if (job.certificate.state != CertificateState::checked)
        stop(FaultCode::not_permitted,
             "is " + std::string(name_of(job.certificate.state)) + ", must be checked", where,
             "have a second person check it");
    if (job.certificate.calibrated_on > date_of_day(day_number(date_of(actor.now)) + 1))
        stop(FaultCode::inconsistent,
             "measured on " + job.certificate.calibrated_on + ", but today is " + date_of(actor.now), "clock",
             "set the clock");
    if (job.certificate.as_found != 0) job.found = read_record(database, job.certificate.as_found);
    if (job.certificate.as_left != 0) job.left = read_record(database, job.certificate.as_left);
    job.found_record = load_record(impl, job.found);
    job.left_record = load_record(impl, job.left);
    for (std::optional<Record>* record : {&job.found_record, &job.left_record}) {
        if (!*record) continue;
        confirm_limits_of(database, **record, where);
        if (!reason.empty() && (*record)->statement.needs_acceptance())
            (*record)->acceptance = Acceptance{reason, actor.person, date_of(actor.now)};
        if (const auto fault = check_statement(**record)) throw Stop{*fault};
    }
    if (!job.certificate.refers_to.empty()) {
        job.refers_to = certificate_with_number(database, job.certificate.refers_to);
        if (const std::string later = superseded_by(database, job.refers_to); !later.empty())
            stop(FaultCode::not_permitted,
                 "certificate " + job.certificate.refers_to + " was replaced by " + later, where,
                 "refer to that one");
        refers_to_same_gauge(database, job.refers_to, row_with_id<StoredCertificate>(database, job.id).gauge,
                             {job.certificate.as_found, job.certificate.as_left});
    }
    // An amendment says why; anything else would state anew what is not known.
    if (job.certificate.kind == CertificateKind::amendment) return;
    if (job.found) rests_on_sound_instruments(database, *job.found_record, *job.found, where);
    if (job.left) rests_on_sound_instruments(database, *job.left_record, *job.left, where);
}

void fill_sheet(Register::Impl& impl, const Actor& actor, const Series& series, const seal::SigningKey& key,
                Job& job) {
    IssueSheet& sheet = job.sheet;
    sheet = {};
    sheet.number = number_text(series.bench, series.year, job.sequence);
    sheet.kind = job.certificate.kind;
    sheet.refers_to = job.certificate.refers_to;
    sheet.reason = job.certificate.reason;
    sheet.drafted_by = job.certificate.drafted_by;
    sheet.checked_by = job.certificate.checked_by;
    // What the order says of the gauge when it came, where the record does not.
    const std::optional<Row> order = impl.database->row(
        "SELECT o.id, o.condition, o.received_on FROM certificates c JOIN orders o ON o.id = c.order_id "
        "WHERE "
        "c.id = :p1",
        "itt", {job.id});
    const auto authorised = [&](const std::optional<Record>& record, std::string& json) {
        std::optional<Record> out = record;
        if (!out) return out;
        out->number = sheet.number;
        out->issued_on = date_of(actor.now);
        out->authorised_by = actor.person;
        if (order && out->identity.condition.empty()) out->identity.condition = order->text(1);
        if (order && out->received_on.empty()) out->received_on = order->text(2);
        json = record_to_json(*out);
        return out;
    };
    sheet.as_found = authorised(job.found_record, sheet.as_found_json);
    sheet.as_left = authorised(job.left_record, sheet.as_left_json);
    const std::string fingerprint = sheet.as_left
                                        ? seal::fingerprint_of(sheet.as_left_json, sheet.as_found_json)
                                        : seal::fingerprint_of(sheet.as_found_json);
    sheet.issued_on = date_of(actor.now);
    sheet.seal = seal::seal_record(sheet.number, fingerprint, sheet.issued_on, key);
    if (order) {
        sheet.findings = findings_of(*impl.database, order->integer(0));
        sheet.adjustments = adjustments_of(*impl.database, order->integer(0));
    }
    if (const auto& first = job.found ? job.found : job.left) {
        Past past = look_back(impl, *first, job.found_record, job.refers_to);
        sheet.history = std::move(past.history);
        sheet.drift = past.drift;
    }
}

// Draws all jobs from `first` on; gives the first that failed, with its fault.
std::optional<std::pair<std::size_t, Fault>> draw(std::vector<Job>& jobs, std::size_t first,
                                                  const seal::SigningKey& key, const DocumentMaker& maker,
                                                  const IssueOptions& options) {
    std::vector<std::optional<Fault>> faults(jobs.size());
    std::atomic<std::size_t> next{first};
    const auto work = [&] {
        for (std::size_t i = next++; i < jobs.size(); i = next++) {
            Job& job = jobs[i];
            Result<Documents> made = maker(job.sheet);
            faults[i] = made ? unfit(*made) : std::optional<Fault>(made.fault());
            if (faults[i]) continue;
            job.documents = std::move(*made);
            if (Outcome sealed = seal_documents(job.documents, job.sheet, key, options.signer); !sealed)
                faults[i] = sealed.fault();
        }
    };
    std::vector<std::future<void>> others;
    const std::size_t helpers =
        std::min<std::size_t>(static_cast<std::size_t>(std::clamp(options.threads, 1, 64)),
                              jobs.size() - first) -
        1;
    for (std::size_t i = 0; i < helpers; ++i) others.push_back(std::async(std::launch::async, work));
    work();
    for (std::future<void>& other : others) other.get();
    for (std::size_t i = first; i < jobs.size(); ++i)
        if (faults[i]) return std::pair{i, std::move(*faults[i])};
    return std::nullopt;
}

void store(DocumentStore& documents, Job& job) {
    if (job.sheet.as_left) job.as_left_sha256 = documents.put(job.sheet.as_left_json);
    if (job.sheet.as_found) job.as_found_sha256 = documents.put(job.sheet.as_found_json);
    job.pdf_sha256 = documents.put(job.documents.pdf);
    if (!job.documents.xml.empty()) job.xml_sha256 = documents.put(job.documents.xml);
    for (const Attachment& other : job.documents.others)
        job.others.push_back({other.name, documents.put(other.bytes)});
    job.documents = {};  // flat memory, however many certificates a group has
}

void write_rows(Writer& writer, const Series& series, const Job& job) {
    Database& database = writer.database;
    // Drawing took its time, and on a server others can write meanwhile.
    must_be_as_logged<StoredCertificate>(database, job.id);
    for (const NamedDocument& other : job.others)
        store_row(database, CertificateDocument{job.id, other.name, kept_digest(other.sha256)});
    const auto rests_on = [&](const std::optional<Record>& record, const std::optional<RecordRow>& row) {
        if (!record) return;
        for (const InstrumentUsed& used : record->instruments)
            database.run(
                "INSERT INTO certificate_calibrations (calibration_id, used_on, certificate_id) VALUES (:p1, "
                ":p2, :p3) "
                "ON CONFLICT DO NOTHING",
                {calibration_of(writer, used, row->bench), row->calibrated_on, job.id});
    };
    rests_on(job.found_record, job.found);
    rests_on(job.left_record, job.left);
    StoredCertificate row = row_with_id<StoredCertificate>(database, job.id);
    row.state = CertificateState::issued;
    row.issued_by = writer.person;
    row.issued_at = writer.actor.now;
    row.series = series.id;
    row.sequence = job.sequence;
    row.fingerprint = kept_digest(job.sheet.seal.fingerprint);
    row.key_id = job.sheet.seal.key_id;
    row.signature = seal::to_base64(seal::signature_to_store(job.sheet.seal));
    row.as_left_sha256 = kept_digest(job.as_left_sha256);
    row.as_found_sha256 = kept_digest(job.as_found_sha256);
    row.pdf_sha256 = kept_digest(job.pdf_sha256);
    row.xml_sha256 = kept_digest(job.xml_sha256);
    if (const std::optional<calib::LargestDrift>& drift = job.sheet.drift) {
        row.drift_percent = drift->percent;
        row.drift_En = drift->En;
        row.drift_at_mm_h = drift->at_mm_h;
        row.drift_since = drift->since;
    }
    store_row(database, row);
    database.run(
        "UPDATE gauges SET last_calibrated_on = :p1 WHERE id = :p2 AND coalesce(last_calibrated_on, '') < "
        ":p3",
        {job.certificate.calibrated_on, job.certificate.gauge, job.certificate.calibrated_on});
    refresh_due(database, job.certificate.gauge);
    writer.log("issue", "certificate", job.id,
               Detail()
                   .text("number", job.sheet.number)
                   .text("known_by", writer.actor.logged_in ? "passphrase" : "name")
                   .json());
}

Fault in_draft(Fault fault, Id id) {
    const std::string draft = "certificate draft " + std::to_string(id);
    if (fault.where.empty())
        fault.where = draft;
    else if (fault.where.find("certificate draft") == std::string::npos)
        fault.where = draft + ": " + fault.where;
    return fault;
}

class Group {
public:
    Group(Register::Impl& impl, const Actor& actor, const seal::SigningKey& key, const DocumentMaker& maker,
          const IssueOptions& options, std::vector<std::optional<Result<Issued>>>& answers)
        : impl_(impl), actor_(actor), key_(key), maker_(maker), options_(options), answers_(answers) {}

    void issue(std::vector<Job> jobs, const std::string& bench) {
        // Drawing needs only the series; other benches of a shared server write meanwhile.
        Writer writer(impl_, actor_, Permission::issue, impl_.database->dialect() == Dialect::sqlite);
        const std::int64_t year = std::stoll(actor_.now.substr(0, 4));
        Series series = lock_series(*impl_.database, bench, year);
        NumbersNote note(*impl_.database, options_.issued_numbers, key_, date_of(actor_.now));
        const std::optional<std::string> moved = note.move_on(series);
        std::erase_if(jobs, [&](Job& job) { return !ready(job); });
        std::size_t drawn = 0;  // these are done; a failing one moves the numbers of those after it
        while (drawn < jobs.size()) {
            for (std::size_t i = drawn; i < jobs.size(); ++i) {
                jobs[i].sequence = series.next + static_cast<std::int64_t>(i);
                fill_sheet(impl_, actor_, series, key_, jobs[i]);
            }
            tell("numbered", jobs.size());
            const auto failed = draw(jobs, drawn, key_, maker_, options_);
            if (!failed) break;
            drawn = failed->first;
            answers_[jobs[drawn].place] = in_draft(failed->second, jobs[drawn].id);
            jobs.erase(jobs.begin() + static_cast<std::ptrdiff_t>(drawn));
        }
        if (jobs.empty()) return;
        tell("drawn", jobs.size());
        writer.lock();  // before storing: a tidy() may not take documents from under us
        const std::string missed = note.missed(series);
        // Numbers that were moved on say already that an older backup came back.
        if (options_.warn && (moved || !missed.empty())) options_.warn(moved ? *moved : missed);
        for (Job& job : jobs) {
            store(*impl_.documents, job);
            tell("stored", 1);
        }
        note.begin(writer.head(), series, jobs.back().sequence);
        bool committing = false;
        try {
            if (series.is_new)
                writer.log("enter", "number series", series.id,
                           Detail().text("bench", series.bench).integer("year", series.year).json());
            if (!missed.empty())
                writer.log(missing_action, "register", 0, Detail().text("missed", missed).json());
            if (moved)
                writer.put(NumberGap{0, series.id, series.left_out_first, series.left_out_last, *moved});
            for (const Job& job : jobs) write_rows(writer, series, job);
            writer.seal(key_);
            tell("written", jobs.size());
            committing = true;
            writer.commit();
        } catch (const Stop& unwritten) {
            // A commit that failed for anything but room may have happened.
            if (!committing || unwritten.fault.code == FaultCode::disk_full) note.withdraw();
            throw;
        }
        try {
            note.end(writer.head());
        } catch (const Stop& unnoted) {
            // They are issued; that they were begun stands, and the next issue goes on after them.
            if (options_.unnoted) options_.unnoted(unnoted.fault);
        }
        tell("committed", jobs.size());
        for (const Job& job : jobs) answers_[job.place] = Issued{job.id, job.sheet.number, false};
    }

private:
    bool ready(Job& job) {
        try {
            if (impl_.database->dialect() == Dialect::postgresql)
                impl_.database->row("SELECT id FROM certificates WHERE id = :p1 FOR UPDATE", "i", {job.id});
            job.certificate = read_certificate(*impl_.database, job.id);
            if (job.certificate.state == CertificateState::issued) {
                answers_[job.place] = Issued{job.id, job.certificate.number, true};
                return false;
            }
            prepare(impl_, actor_, options_.reason, job);
            return true;
        } catch (const Stop& refused) {
            if (refused.fault.code == FaultCode::database_unreachable) throw;
            answers_[job.place] = in_draft(refused.fault, job.id);
            return false;
        }
    }

    void tell(std::string_view stage, std::size_t done) const {
        if (options_.on_stage) options_.on_stage(stage, done);
    }

    Register::Impl& impl_;
    const Actor& actor_;
    const seal::SigningKey& key_;
    const DocumentMaker& maker_;
    const IssueOptions& options_;
    std::vector<std::optional<Result<Issued>>>& answers_;
};

}  // namespace

std::vector<Result<Issued>> Register::issue_many(const Actor& actor, const std::vector<Id>& certificates,
                                                 const std::string& bench, const seal::SigningKey& key,
                                                 const DocumentMaker& maker, const IssueOptions& options) {
    std::vector<std::optional<Result<Issued>>> answers(certificates.size());
    const std::size_t size = static_cast<std::size_t>(std::clamp(options.group, 1, 1000));
    Group group(*impl_, actor, key, maker, options, answers);
    for (std::size_t from = 0; from < certificates.size(); from += size) {
        std::vector<Job> jobs;
        for (std::size_t i = from; i < std::min(certificates.size(), from + size); ++i) {
            jobs.emplace_back();
            jobs.back().id = certificates[i];
            jobs.back().place = i;
        }
        const Outcome done = answered([&] {
            if (!is_bench_code(bench))
                stop(FaultCode::bad_value,
                     in_quotes(bench) + " is not a bench code, 1 to 8 capital letters or digits", "bench");
            group.issue(std::move(jobs), bench);
            return Done{};
        });
        if (done) continue;
        for (std::size_t i = from; i < std::min(certificates.size(), from + size); ++i)
            if (!answers[i] || answers[i]->ok()) answers[i] = Result<Issued>(done.fault());
    }
    std::vector<Result<Issued>> out;
    out.reserve(answers.size());
    for (std::optional<Result<Issued>>& answer : answers) out.push_back(std::move(*answer));
    return out;
}

Result<Issued> Register::issue(const Actor& actor, Id certificate, const std::string& bench,
                               const seal::SigningKey& key, const DocumentMaker& maker,
                               const IssueOptions& options) {
    return std::move(issue_many(actor, {certificate}, bench, key, maker, options).front());
}

}  // namespace tipwright::report
