#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/register/certificates.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEMPLATE_TEST_CASE("register: a certificate goes from draft to checked to issued, sealed and stored", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const Id found = lab.entered(record_of("EX-1"));
    const Id left = lab.entered(record_of("EX-1", "2026-03-02", report::State::as_left, 6.283));
    CHECK(lab.entered(record_of("EX-1")) == found);  // the same again is the same
    const Id id = lab.checked(found, left);
    const Issued issued = lab.issued(id);
    CHECK(issued.number == "B1-2026-00001");
    CHECK_FALSE(issued.already);

    const Certificate certificate = got(lab.reg.certificate("B1-2026-00001"));
    CHECK(certificate.state == CertificateState::issued);
    CHECK(certificate.serial == "EX-1");
    CHECK(certificate.drafted_by == "T. Technician");
    CHECK(certificate.checked_by == "C. Checker");
    CHECK(certificate.issued_by == "A. Signatory");
    CHECK(certificate.calibrated_on == "2026-03-02");
    const std::string left_json = got(lab.reg.document(certificate.record_sha256));
    const std::string found_json = got(lab.reg.document(certificate.as_found_sha256));
    CHECK(seal::check_record(*certificate.seal, lab.public_keys(), left_json, found_json));
    const Record sealed = got(record_from_json(left_json, "record"));
    CHECK(sealed.number == "B1-2026-00001");
    CHECK(sealed.issued_on == "2026-03-05");
    CHECK(sealed.authorised_by == "A. Signatory");
    CHECK(sealed.state == report::State::as_left);
    CHECK(got(seal::check_file(got(lab.reg.document(certificate.pdf_sha256)), lab.public_keys(), "pdf"))
              .number == "B1-2026-00001");
    CHECK(
        got(seal::check_file(got(lab.reg.document(certificate.xml_sha256)), lab.public_keys(), "xml")).kind ==
        seal::FileKind::xml);
    REQUIRE(certificate.others.size() == 1);
    CHECK(got(lab.reg.document(certificate.others[0].sha256)) == "interval_s,depth_mm\n1,0.2\n");

    // Asked again, it says what it did.
    const Issued again = lab.issued(id);
    CHECK(again.already);
    CHECK(again.number == issued.number);
    CHECK(lab.certified("EX-2") == "B1-2026-00002");
    const InspectionReport report = lab.inspected();
    CHECK(report.certificates == 2);
    CHECK(report.stray_documents == 0);
}

TEMPLATE_TEST_CASE("register: nobody signs twice, nothing is issued unchecked", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const Id record = lab.entered(record_of("EX-1"));
    Draft draft;
    CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::missing_field);
    draft.as_found = 9999;
    CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::unknown_field);
    draft.as_found = record;

    SECTION("who drafted does not check") {
        const Id id = got(lab.reg.draft(checker, draft));
        CHECK(refused(lab.reg.mark_checked(checker, id)) == FaultCode::not_permitted);
        done(lab.reg.mark_checked(signatory, id));
        CHECK(got(lab.reg.certificate(id)).checked_by == "A. Signatory");
    }
    SECTION("who measured does not check") {
        Record own = record_of("EX-9");
        own.operator_name = "C. Checker";
        draft.as_found = lab.entered(own);
        const Id id = got(lab.reg.draft(technician, draft));
        const Outcome checked = lab.reg.mark_checked(checker, id);
        CHECK(refused(checked) == FaultCode::not_permitted);
        CHECK(checked.fault().line().find("made the measurement") != std::string::npos);
    }
    SECTION("rights are kept") {
        const Id id = got(lab.reg.draft(technician, draft));
        CHECK(refused(lab.reg.mark_checked(technician, id)) == FaultCode::not_permitted);
        done(lab.reg.mark_checked(checker, id));
        CHECK(refused(lab.reg.issue(checker, id, "B1", lab.key(), plain_documents)) ==
              FaultCode::not_permitted);
        CHECK(refused(lab.reg.issue({"N. Nobody", "2026-03-05T09:00:00Z"}, id, "B1", lab.key(),
                                    plain_documents)) == FaultCode::unknown_field);
    }
    SECTION("a draft is not issued, a checked one not checked again, and what is sent back starts anew") {
        const Id id = got(lab.reg.draft(technician, draft));
        CHECK(refused(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)) ==
              FaultCode::not_permitted);
        done(lab.reg.mark_checked(checker, id));
        CHECK(refused(lab.reg.mark_checked(signatory, id)) == FaultCode::not_permitted);
        done(lab.reg.send_back(checker, id, "the limits are the old ones"));
        CHECK(refused(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)) ==
              FaultCode::not_permitted);
        CHECK(refused(lab.reg.discard(technician, id, "")) == FaultCode::missing_field);
        done(lab.reg.discard(technician, id, "measured again"));
        CHECK(refused(lab.reg.mark_checked(checker, id)) == FaultCode::not_permitted);
        CHECK(got(lab.reg.draft(technician, draft)) != id);  // the record is free again
    }
    SECTION("of a run that was broken off the finished steps are certified when a person accepts that") {
        Record cut = record_of("EX-2");
        cut.completeness = Completeness::incomplete;
        cut.end_reason = "the pump was stopped";
        report::state(cut);
        const Id id = lab.checked(lab.entered(cut));
        const auto refusal = lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents);
        CHECK(refused(refusal) == FaultCode::not_permitted);
        CHECK(refusal.fault().line().find("incomplete") != std::string::npos);
        IssueOptions accepted;
        accepted.reason = "the steps left out are not used at the station";
        CHECK(got(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents, accepted)).number ==
              "B1-2026-00001");
    }
    SECTION("records must belong together") {
        draft.as_left = lab.entered(record_of("EX-2", "2026-03-02", report::State::as_left));
        CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::inconsistent);
        draft.as_left = lab.entered(record_of("EX-1", "2026-03-01", report::State::as_left));
        CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::inconsistent);
        draft.as_left = 0;
        std::swap(draft.as_found, draft.as_left);
        CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::inconsistent);
    }
    SECTION("one record, one certificate") {
        got(lab.reg.draft(technician, draft));
        CHECK(refused(lab.reg.draft(technician, draft)) == FaultCode::duplicate);
    }
    SECTION("bench codes are short and plain") {
        const Id id = lab.checked(record);
        for (const char* bench : {"", "b1", "B-1", "TOOLONGCODE", "Ä"})
            CHECK(refused(lab.reg.issue(signatory, id, bench, lab.key(), plain_documents)) ==
                  FaultCode::bad_value);
    }
    lab.inspected();
}

TEMPLATE_TEST_CASE(
    "register: what stands with reservation is issued only when somebody accepts it, with a reason", "",
    OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    report::Record record = with_phantom_tips(record_of("G-9"), 2);
    // The record claims to be stated whole; the register decides for itself.
    REQUIRE(record.statement.reservations.empty());
    const report::Id entered = lab.entered(record);
    CHECK(got(lab.reg.record(entered)).statement.of_step(2)->result == calib::Claim::not_stated);
    const report::Id id = lab.checked(entered);
    const auto refusal = lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents);
    REQUIRE_FALSE(refusal);
    CHECK(refusal.fault().code == FaultCode::not_permitted);
    CHECK(refusal.fault().what.find("tips doubted at step 2") != std::string::npos);
    report::IssueOptions accepted;
    accepted.reason = "spare gauge, wanted today";
    const auto issued = got(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents, accepted));
    const auto certificate = got(lab.reg.certificate(issued.number));
    const auto sealed =
        got(report::record_from_json(got(lab.reg.document(certificate.record_sha256)), "sealed record"));
    REQUIRE(sealed.acceptance);
    CHECK(sealed.acceptance->reason == "spare gauge, wanted today");
    CHECK(sealed.acceptance->by == signatory.person);
    CHECK(sealed.statement.of_step(2)->result == calib::Claim::not_stated);
    // Nothing at all to state: no reason helps.
    const auto steps = static_cast<int>(record.evaluation.steps.size());
    for (int step = 1; step <= steps; ++step) record = with_phantom_tips(std::move(record), step);
    record.source_sha256 = report::sha256_hex("another run");
    record.identity.serial = "G-10";
    CHECK(refused(lab.reg.issue(signatory, lab.checked(lab.entered(record)), "B1", lab.key(), plain_documents,
                                accepted)) == FaultCode::not_permitted);
    // The year after it has moved most where it is doubted: the drift is told of the other steps.
    report::Record next = with_phantom_tips(record_of("G-9", "2027-03-05"), 2);
    next.evaluation.steps[1].error_percent.value -= 30;
    const auto later = at(signatory, "2027-03-05T12:00:00Z");
    const auto second =
        got(lab.reg.issue(later, lab.checked(lab.entered(next, "2027-03-05"), 0, "2027-03-05"), "B1",
                          lab.key(), plain_documents, accepted));
    const auto moved = got(lab.reg.certificate(second.number)).drift;
    REQUIRE(moved.has_value());
    CHECK(std::abs(moved->percent) < 1);
    CHECK(got(lab.reg.drifted("", 10, 3, "2027-12-31")).rows.empty());
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a static check has moved from no rate, and no rate from a static check", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const auto certified = [&](const std::string& day, bool at_rest) {
        report::Record record = record_of("EX-1", day);
        if (at_rest) {
            SampleOptions wish;
            wish.no_duration = true;
            record.evaluation = sample_record(wish).evaluation;
        }
        return lab.issued(lab.checked(lab.entered(record, day), 0, day), day).number;
    };
    certified("2026-03-05", false);
    const std::string at_rest = certified("2027-03-05", true);
    CHECK_FALSE(got(lab.reg.certificate(at_rest)).drift);
    const std::string at_rates = certified("2028-03-05", false);
    CHECK_FALSE(got(lab.reg.certificate(at_rates)).drift);
    CHECK(got(lab.reg.certificate(certified("2029-03-05", false))).drift);
    lab.inspected();
}

// A drift "since" a calibration that began later, or at the very same moment, stood on page 1 of a
// certificate.
TEMPLATE_TEST_CASE("register: only what was measured before is history, also on one day", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const auto drift_of = [&](const std::string& began, const std::string& ended) {
        report::Record record = record_of("G-3", began.substr(0, 10));
        record.started_at = began;
        record.ended_at = ended;
        record.source_sha256 = report::sha256_hex(began + ended);
        const std::string day = "2026-03-09";
        const auto number = lab.issued(lab.checked(lab.entered(record, day), 0, day), day).number;
        return got(lab.reg.certificate(number)).drift;
    };
    CHECK_FALSE(drift_of("2026-03-05T13:00:00Z", "2026-03-05T14:00:00Z"));
    CHECK_FALSE(drift_of("2026-03-05T08:00:00Z", "2026-03-05T09:12:00Z"));
    CHECK_FALSE(drift_of("2026-03-05T08:00:00Z", "2026-03-05T09:30:00Z"));
    const auto moved = drift_of("2026-03-05T15:00:00Z", "2026-03-05T16:00:00Z");
    REQUIRE(moved);
    CHECK(moved->percent == 0);
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a maker that fails leaves the draft as it was and no gap", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    std::vector<Id> ids;
    for (int i = 0; i < 7; ++i) ids.push_back(lab.checked(lab.entered(record_of("EX-" + std::to_string(i)))));
    const auto breaks_at = [](const char* serial) {
        return [serial](const IssueSheet& sheet) -> Result<Documents> {
            if (sheet.as_found->identity.serial == serial)
                return Fault{FaultCode::bad_value, "cannot be drawn", "page 1", ""};
            return plain_documents(sheet);
        };
    };
    IssueOptions options;
    options.threads = 3;
    options.group = 5;
    ids.push_back(ids[0]);  // twice in the list
    const std::vector<Result<Issued>> answers =
        lab.reg.issue_many(signatory, ids, "B1", lab.key(), breaks_at("EX-2"), options);
    REQUIRE(answers.size() == 8);
    CHECK(answers[0]->number == "B1-2026-00001");
    CHECK(answers[1]->number == "B1-2026-00002");
    CHECK(refused(answers[2]) == FaultCode::bad_value);
    CHECK(answers[2].fault().line() == "certificate draft 3: page 1: cannot be drawn");
    CHECK(answers[3]->number == "B1-2026-00003");
    CHECK(answers[6]->number == "B1-2026-00006");
    CHECK(answers[7]->already);
    CHECK(answers[7]->number == "B1-2026-00001");
    for (const std::size_t i : {0U, 1U, 3U, 4U, 5U, 6U}) {
        const Certificate certificate = got(lab.reg.certificate(answers[i]->number));
        const std::string pdf = got(lab.reg.document(certificate.pdf_sha256));
        CHECK(pdf.find(certificate.number) != std::string::npos);
        CHECK(pdf.find(certificate.seal->fingerprint) != std::string::npos);
    }
    const auto draws = [](Documents documents) {
        return [documents](const IssueSheet&) -> Result<Documents> { return documents; };
    };
    CHECK(refused(lab.reg.issue(signatory, ids[2], "B1", lab.key(), draws({}))) == FaultCode::missing_field);
    for (const char* name : {"", "../x", ".x", "a/b"})
        CHECK(refused(lab.reg.issue(signatory, ids[2], "B1", lab.key(),
                                    draws({"%PDF", "", {}, {{name, "x"}}}))) == FaultCode::bad_value);
    CHECK(refused(lab.reg.issue(signatory, ids[2], "B1", lab.key(),
                                draws({"%PDF", "", {}, {{"a", "x"}, {"a", "y"}}}))) == FaultCode::bad_value);
    CHECK(lab.issued(ids[2]).number == "B1-2026-00007");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: numbers run by year and bench", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const auto next = [&](const std::string& serial, const std::string& bench, const std::string& day) {
        return lab.issued(lab.checked(lab.entered(record_of(serial, day), day), 0, day), day, bench).number;
    };
    CHECK(next("A", "B1", "2026-03-05") == "B1-2026-00001");
    CHECK(next("B", "B2", "2026-03-05") == "B2-2026-00001");
    CHECK(next("C", "B1", "2026-12-31") == "B1-2026-00002");
    CHECK(next("D", "B1", "2027-01-01") == "B1-2027-00001");
    CHECK(next("E", "B2", "2027-01-01") == "B2-2027-00001");
    CHECK(number_text("B1", 2027, 123456) == "B1-2027-123456");
    for (const char* text :
         {"", "B1", "B1-2027", "B1-2027-1", "B1-2027-00000x", "b1-2027-00001", "B1-2027-0000001"})
        CHECK_FALSE(parts_of_number(text).has_value());
    CHECK(parts_of_number("B1-2027-123456")->sequence == 123456);
    CHECK(refused(lab.reg.certificate("B1-2027-00009")) == FaultCode::unknown_field);
    CHECK(refused(lab.reg.certificate("nonsense")) == FaultCode::unknown_field);
}

TEMPLATE_TEST_CASE(
    "register: amendments and replacements refer to the old certificate and say why (ISO/IEC 17025:2017 "
    "7.8.8, from memory)",
    "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const Id record = lab.entered(record_of("EX-1"));
    const Id first = lab.checked(record);
    const auto draft = [&](CertificateKind kind, const std::string& number, const std::string& reason) {
        Draft out;
        out.as_found = record;
        out.kind = kind;
        out.refers_to = number;
        out.reason = reason;
        return lab.reg.draft(technician, out);
    };
    const auto finish = [&](Result<Id> id) {
        done(lab.reg.mark_checked(checker, got(id)));
        return lab.issued(got(id)).number;
    };
    CHECK(refused(draft(CertificateKind::amendment, "B1-2026-00001", "address")) == FaultCode::unknown_field);
    const std::string original = lab.issued(first).number;
    CHECK(refused(draft(CertificateKind::amendment, original, "")) == FaultCode::missing_field);
    CHECK(refused(draft(CertificateKind::original, original, "x")) == FaultCode::inconsistent);

    SECTION("neither is of another gauge, unless the run's own serial was wrong") {
        Draft other;
        other.kind = CertificateKind::replacement;
        other.refers_to = original;
        other.reason = "wrong run";
        other.as_found = lab.entered(record_of("EX-9"));
        const auto refusal = lab.reg.draft(technician, other);
        CHECK(refused(refusal) == FaultCode::inconsistent);
        CHECK(refusal.fault().what ==
              "the record is of gauge EX-9, the certificate it refers to of gauge EX-1");
        Record same_run = record_of("EX-1");
        same_run.identity.serial = "EX-9";
        other.as_found = lab.entered(same_run);
        CHECK(lab.reg.draft(technician, other));
    }
    const std::string amendment =
        finish(draft(CertificateKind::amendment, original, "the customer's address was wrong"));
    const std::string replacement = finish(draft(CertificateKind::replacement, original, "wrong station"));
    CHECK(amendment == "B1-2026-00002");
    CHECK(replacement == "B1-2026-00003");
    const Certificate old = got(lab.reg.certificate(original));
    CHECK(old.superseded_by == replacement);
    CHECK(old.amended_by == std::vector<std::string>{amendment});
    const Certificate last = got(lab.reg.certificate(replacement));
    CHECK(last.refers_to == original);
    CHECK(last.reason == "wrong station");
    CHECK(last.kind == CertificateKind::replacement);
    CHECK_FALSE(last.drift.has_value());  // not against the one it replaces
    CHECK(refused(draft(CertificateKind::replacement, original, "again")) == FaultCode::not_permitted);
    CHECK(finish(draft(CertificateKind::replacement, replacement, "again")) == "B1-2026-00004");

    SECTION("two drafts that replace the same one: the second is told when it is issued") {
        const Id one = got(draft(CertificateKind::replacement, "B1-2026-00004", "one"));
        const Id two = got(draft(CertificateKind::replacement, "B1-2026-00004", "two"));
        finish(one);
        done(lab.reg.mark_checked(checker, two));
        CHECK(refused(lab.reg.issue(signatory, two, "B1", lab.key(), plain_documents)) ==
              FaultCode::not_permitted);
    }
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: what is issued cannot be changed, not even past the program", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1");
    const Id waiting = lab.checked(lab.entered(record_of("EX-2")));
    const Id draft_only = [&] {
        Draft draft;
        draft.as_found = lab.entered(record_of("EX-3"));
        return got(lab.reg.draft(technician, draft));
    }();
    const std::unique_ptr<Database> raw = lab.raw();
    const std::string wait = std::to_string(waiting);
    const std::string plain = std::to_string(draft_only);
    const std::string statements[] = {
        "UPDATE certificates SET reason = 'x' WHERE state = 'issued'",
        "UPDATE certificates SET pdf_sha256 = 'x' WHERE state = 'issued'",
        "UPDATE certificates SET state = 'draft' WHERE state = 'issued'",
        "UPDATE certificates SET sequence = 7 WHERE state = 'issued'",
        "DELETE FROM certificates WHERE state = 'issued'",
        "DELETE FROM certificates WHERE id = " + plain,
        "UPDATE certificates SET as_found_id = 1 WHERE id = " + wait,
        "UPDATE certificates SET drafted_by = 1 WHERE id = " + wait,
        "UPDATE certificates SET checked_by = 1 WHERE id = " + wait,
        "UPDATE certificates SET checked_by = drafted_by, checked_at = 'now', state = 'checked' WHERE id = " +
            plain,
        "UPDATE certificates SET state = 'checked' WHERE id = " + plain,
        "UPDATE certificates SET state = 'issued' WHERE id = " + wait,
        "UPDATE certificates SET state = 'issued', issued_by = 1, issued_at = 'x', series_id = 1, sequence = "
        "3, "
        "signature = 'x', fingerprint = 'x', pdf_sha256 = 'x', as_found_sha256 = 'x' WHERE id = " +
            wait,
        "UPDATE records SET points = ''",
        "DELETE FROM records",
        "UPDATE runs SET bench = 'x'",
        "DELETE FROM runs",
        "UPDATE audit SET detail = '' WHERE seq = 3",
        "DELETE FROM audit WHERE seq = 3",
        "DELETE FROM audit_head",
        "DELETE FROM gauges",
        "DELETE FROM people",
        "DELETE FROM number_series",
        "UPDATE certificate_documents SET sha256 = 'x'",
        "DELETE FROM certificate_documents",
        "INSERT INTO certificate_documents (certificate_id, name, sha256) SELECT id, 'x', 'y' FROM "
        "certificates WHERE state "
        "= 'issued'",
        "DELETE FROM certificate_calibrations",
        "INSERT INTO certificates (kind, state, gauge_id, as_found_id, calibrated_on, drafted_by, "
        "drafted_at, checked_by, "
        "checked_at) VALUES ('original', 'checked', 1, 1, '2026-01-01', 1, 'x', 2, 'x')",
    };
    for (const std::string& statement : statements) {
        INFO(statement);
        bool refused_it = false;
        try {
            raw->run(statement);
        } catch (const Stop& guarded) {
            refused_it = guarded.fault.code == FaultCode::not_permitted;
            INFO(guarded.fault.line());
            CHECK(guarded.fault.line().find("while") == std::string::npos);
        }
        CHECK(refused_it);
    }
    if (TestType::postgresql)
        for (const char* table : {"audit", "certificates", "records"})
            CHECK_THROWS_AS(raw->run(std::string("TRUNCATE ") + table + " CASCADE"), Stop);
    // The way that is meant stays open.
    CHECK(lab.issued(waiting).number == "B1-2026-00002");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a verdict by limits that nobody compared with their source is not issued", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const auto unconfirmed = [](const std::string& serial, double moved = 0) {
        Record record = record_of(serial);
        record.invented = false;
        for (calib::Limits* limits : {&record.plan.limits, &record.evaluation.conformity.limits}) {
            limits->confirmed = false;
            REQUIRE_FALSE(limits->rows.empty());
            limits->rows.front().high_percent += moved;
        }
        report::state(record);
        REQUIRE(record.statement.has(calib::ReservationId::limits_unconfirmed));
        return record;
    };
    const Record record = unconfirmed("EX-1");
    const Id id = lab.checked(lab.entered(record));
    const auto refusal = lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents);
    CHECK(refused(refusal) == FaultCode::not_permitted);
    CHECK(refusal.fault().line().find("tipwright limits confirm") != std::string::npos);

    const calib::Limits& limits = record.plan.limits;
    CHECK(refused(lab.reg.confirm_limits(checker, limits, "", "C. Checker")) == FaultCode::missing_field);
    CHECK(refused(lab.reg.confirm_limits(technician, limits, "EN 17277:2019", "C. Checker")) ==
          FaultCode::not_permitted);
    done(lab.reg.confirm_limits(checker, limits, "EN 17277:2019", "C. Checker"));
    const Issued issued = lab.issued(id);
    const Certificate certificate = got(lab.reg.certificate(issued.number));
    const Record sealed = got(record_from_json(got(lab.reg.document(certificate.record_sha256)), "record"));
    CHECK(sealed.plan.limits.confirmed);
    CHECK(sealed.plan.limits.source.find("EN 17277:2019 (C. Checker, 2026-03-0") != std::string::npos);
    CHECK_FALSE(sealed.statement.has(calib::ReservationId::limits_unconfirmed));
    // Other numbers are other limits.
    const Id other = lab.checked(lab.entered(unconfirmed("EX-2", 0.5)));
    CHECK(refused(lab.reg.issue(signatory, other, "B1", lab.key(), plain_documents)) ==
          FaultCode::not_permitted);
    CHECK(lab.inspected().faults.empty());
}
