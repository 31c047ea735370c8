#include "report/register/certificates.hpp"

#include <charconv>

#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/past.hpp"
#include "report/register/records.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

// "certificate draft 17", for messages.
std::string draft_name(Id id) {
    return "certificate draft " + std::to_string(id);
}

Certificate must_be(Database& database, Id id, CertificateState wanted) {
    Certificate out = read_certificate(database, id);
    if (out.state == CertificateState::issued)
        stop(FaultCode::not_permitted, "certificate " + out.number + " is issued and cannot be changed",
             draft_name(id), "amend or replace it");
    if (out.state != wanted)
        stop(FaultCode::not_permitted,
             "is " + std::string(name_of(out.state)) + ", must be " + std::string(name_of(wanted)),
             draft_name(id));
    return out;
}

void check_record_for(Database& database, const Draft& draft, const RecordRow& record, const char* state) {
    const std::string where = "record " + std::to_string(record.id);
    if (record.state != state)
        stop(FaultCode::inconsistent, "the record says " + record.state + ", it is wanted as " + state,
             where);
    if (draft.kind != CertificateKind::original) return;
    if (const std::optional<Row> used = database.row("SELECT id FROM certificates WHERE (as_found_id = :p1 "
                                                     "OR as_left_id = :p1) AND state <> 'discarded' AND "
                                                     "gauge_id = :p2 ORDER BY id LIMIT 1",
                                                     "i", {record.id, record.gauge}))
        stop(FaultCode::duplicate,
             "certificate " + std::to_string(used->integer(0)) + " rests on this record already", where,
             "amend or replace that one");
}

Id check_reference(Database& database, const Draft& draft) {
    if (draft.kind == CertificateKind::original) {
        if (!draft.refers_to.empty() || !draft.reason.empty())
            stop(FaultCode::inconsistent, "an original certificate refers to none", "refers_to");
        return 0;
    }
    const Id id = certificate_with_number(database, draft.refers_to);
    if (id == 0)
        stop(FaultCode::unknown_field, "the register has no issued certificate " + in_quotes(draft.refers_to),
             "refers_to");
    if (draft.reason.empty())
        stop(FaultCode::missing_field, "an amendment or replacement says why", "reason",
             "ISO/IEC 17025:2017 7.8.8");
    check_text("reason", draft.reason);
    if (const std::string later = superseded_by(database, id); !later.empty())
        stop(FaultCode::not_permitted, "certificate " + draft.refers_to + " was replaced by " + later,
             "refers_to", "refer to that one");
    return id;
}

std::string serial_of(Database& database, Id gauge) {
    return row_with_id<GaugeEntry>(database, gauge).serial;
}

// Whoever drafted it did so by their passphrase.
bool drafted_by_login(Database& database, Id certificate) {
    const auto entry = row_where<AuditEntry>(
        database, "t.action = 'draft' AND t.subject = 'certificate' AND t.subject_id = :p1", {certificate});
    return entry && entry->detail.ends_with("\"known_by\":\"passphrase\"}");
}

// Nobody checks their own work, by whatever spelling of their name. Two who proved who they are may be called
// alike.
void refuse_own_work(Database& database, const Actor& checker, Id checker_id, const StoredCertificate& row) {
    const std::string& name = checker.person;
    const auto refuse = [&](const std::string& did) {
        stop(FaultCode::not_permitted, in_quotes(name) + " " + did + " and cannot check it too",
             draft_name(row.id), "have a second person check it");
    };
    if (row.drafted_by == checker_id) refuse("drafted this certificate");
    const std::string drafted_by = row_with_id<Person>(database, row.drafted_by).name;
    if (may_be_same_person(drafted_by, name) && !(checker.logged_in && drafted_by_login(database, row.id)))
        refuse("may be " + in_quotes(drafted_by) + ", who drafted this certificate,");
    for (const Id id : {row.as_found, row.as_left}) {
        if (id == 0) continue;
        const std::string measured_by = read_record(database, id).operator_name;
        if (measured_by == name) refuse("made the measurement");
        if (may_be_same_person(measured_by, name))
            refuse("may be " + in_quotes(measured_by) + ", who made the measurement,");
    }
}

}  // namespace

std::string number_text(const std::string& bench, std::int64_t year, std::int64_t sequence) {
    std::string digits = std::to_string(sequence);
    if (digits.size() < sequence_digits) digits.insert(0, sequence_digits - digits.size(), '0');
    return bench + "-" + std::to_string(year) + "-" + digits;
}

std::optional<NumberParts> parts_of_number(const std::string& number) {
    const std::size_t first = number.find('-');
    const std::size_t second = first == std::string::npos ? first : number.find('-', first + 1);
    if (second == std::string::npos) return std::nullopt;
    NumberParts out;
    out.bench = number.substr(0, first);
    const auto read = [&](std::size_t from, std::size_t to, std::int64_t& value) {
        const auto [end, error] = std::from_chars(number.data() + from, number.data() + to, value);
        return error == std::errc{} && end == number.data() + to;
    };
    if (!read(first + 1, second, out.year) || !read(second + 1, number.size(), out.sequence))
        return std::nullopt;
    if (!is_bench_code(out.bench) || number_text(out.bench, out.year, out.sequence) != number)
        return std::nullopt;
    return out;
}

bool is_bench_code(const std::string& text) {
    if (text.empty() || text.size() > 8) return false;
    for (const char c : text)
        if (!((c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'))) return false;
    return true;
}

Id certificate_with_number(Database& database, const std::string& number) {
    const std::optional<NumberParts> parts = parts_of_number(number);
    if (!parts) return 0;
    const std::optional<Row> row = database.row(
        "SELECT c.id FROM certificates c JOIN number_series s ON s.id = c.series_id "
        "WHERE s.bench = :p1 AND s.year = :p2 AND c.sequence = :p3",
        "i", {parts->bench, parts->year, parts->sequence});
    return row ? row->integer(0) : 0;
}

std::string superseded_by(Database& database, Id id) {
    const std::optional<Row> row = database.row(
        "SELECT s.bench, s.year, c.sequence FROM certificates c JOIN number_series s ON s.id = c.series_id "
        "WHERE c.refers_to = :p1 AND c.kind = 'replacement' AND c.state = 'issued'",
        "tii", {id});
    return row ? number_text(row->text(0), row->integer(1), row->integer(2)) : std::string();
}

RecordRow read_record(Database& database, Id id) {
    const std::optional<Row> row = database.row(
        "SELECT r.id, u.gauge_id, u.bench, r.state, r.complete, u.operator_name, u.started_at, u.ended_at, "
        "r.sha256, "
        "r.points FROM records r JOIN runs u ON u.id = r.run_id WHERE r.id = :p1",
        "iittittttt", {id});
    if (!row) stop(FaultCode::unknown_field, "the register has no record " + std::to_string(id), "record");
    RecordRow out{row->integer(0), row->integer(1), row->text(2), row->text(3), row->integer(4) != 0,
                  row->text(5),    row->text(6),    row->text(7), "",           digest_of(row->text(8)),
                  row->text(9)};
    out.calibrated_on = (out.ended_at.empty() ? out.started_at : out.ended_at).substr(0, 10);
    return out;
}

Certificate read_certificate(Database& database, Id id) {
    const TableShape& shape = shape_of<StoredCertificate>();
    const std::optional<Row> found =
        database.row("SELECT " + shape.list("c.") +
                         ", g.serial, d.name, k.name, i.name, s.bench, s.year, rs.bench, rs.year, "
                         "rc.sequence FROM certificates c "
                         "JOIN gauges g ON g.id = c.gauge_id JOIN people d ON d.id = c.drafted_by "
                         "LEFT JOIN people k ON k.id = c.checked_by LEFT JOIN people i ON i.id = c.issued_by "
                         "LEFT JOIN number_series s ON s.id = c.series_id LEFT JOIN certificates rc ON rc.id "
                         "= c.refers_to "
                         "LEFT JOIN number_series rs ON rs.id = rc.series_id WHERE c.id = :p1",
                     shape.types + "tttttitii", {id});
    if (!found) no_such_row("certificate", id);
    StoredCertificate row;
    RowReader reader(*found);
    describe(reader, row);
    const std::size_t joined = reader.at();
    Certificate out;
    out.id = row.id;
    out.kind = row.kind;
    out.state = row.state;
    out.gauge = row.gauge;
    out.serial = found->text(joined);
    out.as_found = row.as_found;
    out.as_left = row.as_left;
    out.calibrated_on = row.calibrated_on;
    out.reason = row.reason;
    out.drafted_by = found->text(joined + 1);
    out.drafted_at = row.drafted_at;
    out.checked_by = found->text(joined + 2);
    out.checked_at = row.checked_at;
    out.issued_by = found->text(joined + 3);
    out.issued_at = row.issued_at;
    out.order = row.order;
    if (row.refers_to != 0)
        out.refers_to =
            number_text(found->text(joined + 6), found->integer(joined + 7), found->integer(joined + 8));
    if (out.state != CertificateState::issued) return out;
    out.number = number_text(found->text(joined + 4), found->integer(joined + 5), row.sequence);
    const std::optional<std::string> signature = seal::from_base64(row.signature);
    out.seal = seal::Seal{out.number, digest_of(row.fingerprint), row.key_id, "", ""};
    seal::take_stored_signature(*out.seal, signature.value_or(""), date_of(out.issued_at));
    const bool both = !row.as_left_sha256.empty() && !row.as_found_sha256.empty();
    out.record_sha256 = digest_of(row.as_left_sha256.empty() ? row.as_found_sha256 : row.as_left_sha256);
    if (both) out.as_found_sha256 = digest_of(row.as_found_sha256);
    out.pdf_sha256 = digest_of(row.pdf_sha256);
    out.xml_sha256 = digest_of(row.xml_sha256);
    if (row.drift_percent && row.drift_En && row.drift_at_mm_h)
        out.drift =
            calib::LargestDrift{*row.drift_percent, *row.drift_En, *row.drift_at_mm_h, row.drift_since};
    out.superseded_by = superseded_by(database, id);
    database.each(
        "SELECT s.bench, s.year, c.sequence FROM certificates c JOIN number_series s ON s.id = c.series_id "
        "WHERE c.refers_to = :p1 AND c.kind = 'amendment' AND c.state = 'issued' ORDER BY c.issued_at, c.id",
        "tii", {id}, [&](const Row& amended) {
            out.amended_by.push_back(number_text(amended.text(0), amended.integer(1), amended.integer(2)));
        });
    each_row<CertificateDocument>(database, "WHERE t.certificate_id = :p1 ORDER BY t.name", {id},
                                  [&](const CertificateDocument& other) {
                                      out.others.push_back({other.name, digest_of(other.sha256)});
                                  });
    return out;
}

std::vector<EarlierRecord> records_before(Database& database, const RecordRow& record, Id but) {
    std::vector<EarlierRecord> out;
    database.each(
        "SELECT c.calibrated_on, s.bench, s.year, c.sequence, r.state, r.points, r.sha256, c.id, r.id FROM "
        "certificates "
        "c JOIN "
        "number_series s ON s.id = c.series_id JOIN "
        "records r ON r.id = coalesce(c.as_left_id, c.as_found_id) JOIN runs u ON u.id = r.run_id "
        "WHERE c.gauge_id = :p1 AND c.state = "
        "'issued' AND u.started_at < :p2 AND c.id <> :p3 AND r.id <> :p4 AND NOT EXISTS (SELECT 1 FROM "
        "certificates n WHERE n.refers_to = c.id AND n.kind = 'replacement' AND n.state = 'issued') ORDER BY "
        "u.started_at DESC, c.id DESC LIMIT 4",
        "ttiitttii", {record.gauge, record.started_at, but, record.id}, [&](const Row& row) {
            out.push_back({{row.text(0), number_text(row.text(1), row.integer(2), row.integer(3)),
                            row.text(4) == "as_left" ? State::as_left : State::as_found, row.text(5)},
                           row.integer(7),
                           row.integer(8),
                           digest_of(row.text(6))});
        });
    std::reverse(out.begin(), out.end());
    return out;
}

void refers_to_same_gauge(Database& database, Id refers_to, Id gauge, const std::vector<Id>& records) {
    if (refers_to == 0) return;
    const auto earlier = row_with_id<StoredCertificate>(database, refers_to);
    if (earlier.gauge == gauge) return;
    // A serial written wrongly is corrected by the same run under the right one.
    const auto source = [&](Id record) {
        if (record == 0) return std::string();
        const Id run = row_with_id<StoredRecord>(database, record).run;
        return row_with_id<StoredRun>(database, run).source_sha256;
    };
    for (const Id record : records)
        for (const Id before : {earlier.as_found, earlier.as_left})
            if (record != 0 && before != 0 && source(record) == source(before)) return;
    stop(FaultCode::inconsistent,
         "the record is of gauge " + serial_of(database, gauge) + ", the certificate it refers to of gauge " +
             serial_of(database, earlier.gauge),
         "record", "give a record of that gauge, or draft an original certificate");
}

Result<Id> Register::draft(const Actor& actor, const Draft& draft) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        Database& database = writer.database;
        if (draft.as_found == 0 && draft.as_left == 0)
            stop(FaultCode::missing_field, "a certificate rests on at least one record", "record");
        const Id refers_to = check_reference(database, draft);
        std::optional<RecordRow> found;
        std::optional<RecordRow> left;
        for (const Id record : {draft.as_found, draft.as_left}) record_must_be_as_logged(database, record);
        if (draft.as_found != 0) found = read_record(database, draft.as_found);
        if (draft.as_left != 0) left = read_record(database, draft.as_left);
        if (found) check_record_for(database, draft, *found, "as_found");
        if (left) check_record_for(database, draft, *left, "as_left");
        if (found && left && found->gauge != left->gauge)
            stop(FaultCode::inconsistent, "the two records are of different gauges", "record");
        if (found && left && left->ended_at < found->ended_at)
            stop(FaultCode::inconsistent, "as left was measured before as found", "record");
        const Id gauge = found ? found->gauge : left->gauge;
        refers_to_same_gauge(database, refers_to, gauge, {draft.as_found, draft.as_left});
        must_be_as_logged<GaugeEntry>(database, gauge);
        must_be_as_logged<Order>(database, draft.order);
        if (draft.order != 0) {
            const std::optional<Row> order =
                database.row("SELECT gauge_id FROM orders WHERE id = :p1", "i", {draft.order});
            if (!order || order->integer(0) != gauge)
                stop(FaultCode::inconsistent,
                     "there is no order " + std::to_string(draft.order) + " of this gauge", "order");
        }
        if (draft.kind != CertificateKind::amendment)
            for (const std::optional<RecordRow>* record : {&found, &left})
                if (*record) {
                    const std::string name = "record " + std::to_string((*record)->id);
                    rests_on_sound_instruments(database, stored_record(*impl_, (*record)->sha256, name),
                                               **record, name);
                }
        const std::string day = left ? left->calibrated_on : found->calibrated_on;
        StoredCertificate row;
        row.kind = draft.kind;
        row.gauge = gauge;
        row.order = draft.order;
        row.as_found = draft.as_found;
        row.as_left = draft.as_left;
        row.calibrated_on = day;
        row.refers_to = refers_to;
        row.reason = draft.reason;
        row.drafted_by = writer.person;
        row.drafted_at = actor.now;
        row.id = store_row(database, row);
        writer.log("draft", "certificate", row.id,
                   Detail()
                       .integer("as_found", draft.as_found)
                       .integer("as_left", draft.as_left)
                       .text("kind", draft.kind == CertificateKind::original ? "" : name_of(draft.kind))
                       .integer("refers_to", refers_to)
                       .text("reason", draft.reason)
                       .text("known_by", actor.logged_in ? "passphrase" : "name")
                       .json());
        return row.id;
    });
}

Outcome Register::mark_checked(const Actor& actor, Id id) {
    return written(*impl_, actor, Permission::check, [&](Writer& writer) {
        must_be(writer.database, id, CertificateState::draft);
        certificate_must_rest_on_the_log(writer.database, id);
        StoredCertificate row = row_with_id<StoredCertificate>(writer.database, id);
        refuse_own_work(writer.database, writer.actor, writer.person, row);
        row.state = CertificateState::checked;
        row.checked_by = writer.person;
        row.checked_at = actor.now;
        writer.change(row);
        writer.log("check", "certificate", id, login_detail(writer.actor));
        return Done{};
    });
}

Outcome Register::send_back(const Actor& actor, Id id, const std::string& why) {
    return written(*impl_, actor, Permission::check, [&](Writer& writer) {
        must_be(writer.database, id, CertificateState::checked);
        check_text("why", why);
        StoredCertificate row = row_with_id<StoredCertificate>(writer.database, id);
        row.state = CertificateState::draft;
        row.checked_by = 0;
        row.checked_at.clear();
        writer.change(row);
        writer.log("send back", "certificate", id, Detail().text("why", why).json());
        return Done{};
    });
}

Outcome Register::discard(const Actor& actor, Id id, const std::string& why) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        const Certificate found = read_certificate(writer.database, id);
        must_be(
            writer.database, id,
            found.state == CertificateState::checked ? CertificateState::checked : CertificateState::draft);
        if (why.empty()) stop(FaultCode::missing_field, "discarding a draft needs a reason", "why");
        check_text("why", why);
        StoredCertificate row = row_with_id<StoredCertificate>(writer.database, id);
        row.state = CertificateState::discarded;
        writer.change(row);
        writer.log("discard", "certificate", id, Detail().text("why", why).json());
        return Done{};
    });
}

Result<Certificate> Register::certificate(Id id) {
    return snapshot(*impl_, [&] { return read_certificate(*impl_->database, id); });
}

Result<Certificate> Register::certificate(const std::string& number) {
    return snapshot(*impl_, [&] {
        const Id id = certificate_with_number(*impl_->database, number);
        if (id == 0)
            stop(FaultCode::unknown_field, "the register has no certificate " + in_quotes(number),
                 "certificate");
        return read_certificate(*impl_->database, id);
    });
}

Result<std::string> Register::document(const std::string& sha256) {
    return answered([&] { return impl_->documents->get(sha256); });
}

}  // namespace tipwright::report
