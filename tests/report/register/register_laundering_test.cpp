// A change behind the register's back is not made to look like its own by the next command, nothing is issued
// on it, and what was issued on one before is told: by how the certificate came about, and by its record.
#include "report/register/certificate_lives.hpp"
#include "report/register/persons.hpp"
#include "report/seal/encoding.hpp"
#include "tests/report/behind_its_back.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

constexpr const char* day_of_change = "2026-03-05T09:00:00Z";

// A gauge with an earlier certificate, a customer, a station, an order with its work, and a checked draft.
template <class Place>
struct Waiting : Laboratory<Place> {
    Id gauge = 0, draft = 0, customer = 0, station = 0;

    Waiting() {
        this->certified("EX-1", "2026-03-01");
        Register& its = this->reg;
        customer = got(its.put_customer(signatory, {0, "Imaginary Network", "Elsewhere", "", {}}));
        station = got(its.put_station(signatory, {0, customer, "Hill (invented)", "a hill"}));
        GaugeEntry entry = got(its.gauges_with_serial("EX-1")).front();
        entry.customer = customer;
        entry.station = station;
        gauge = got(its.put_gauge(signatory, entry));
        const Id order = got(its.open_order(technician, {0, gauge, "2026-03-02", "dusty", "as ever", ""}));
        got(its.add_finding(technician, {order, "2026-03-03", "insects", "cleaned"}));
        got(its.add_adjustment(technician, {order, "2026-03-03", 0.25, -0.25, 0.01, -0.01, "turned"}));
        Draft wish;
        wish.as_found = this->entered(record_of("EX-1", "2026-03-02"));
        wish.order = order;
        draft = got(its.draft(technician, wish));
        done(its.mark_checked(checker, draft));
    }
};

std::string issued_row(const std::string& table, const std::string& set, Id id) {
    return "UPDATE " + table + " SET " + set + " WHERE id = " + std::to_string(id);
}

}  // namespace

TEMPLATE_TEST_CASE("register: nothing is issued on a row that was changed behind its back", "", OnSqlite,
                   OnPostgresql) {
    Waiting<TestType> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    struct Case {
        const char* table;
        const char* subject;
        const char* text;  // a column of text
        Id id;
    };
    const Case cases[] = {
        {"certificates", "certificate", "drafted_at", lab.draft},
        {"certificates", "certificate", "checked_at", lab.draft},
        {"certificates", "certificate", "drafted_at", 1},  // the one before it
        {"records", "record", "points", 2},
        {"records", "record", "points", 1},
        {"runs", "run", "operator_name", 2},
        {"gauges", "gauge", "note", 1},
        {"customers", "customer", "address", lab.customer},
        {"stations", "station", "place", lab.station},
        {"orders", "order", "condition", 1},
        {"findings", "finding", "found", 1},
        {"adjustments", "adjustment", "work_done", 1},
        {"instruments", "instrument", "description", 1},
        {"calibrations", "calibration", "traceability", 1},
        {"people", "person", "name", 1},
        {"people", "person", "name", 2},
        {"people", "person", "name", 3},
    };
    for (const Case& one : cases) {
        const std::string column = one.text;
        INFO(one.table << " " << column << " " << one.id);
        behind_its_back(*raw, one.table, issued_row(one.table, column + " = " + column + " || 'x'", one.id));
        const Result<Issued> issued = lab.reg.issue(signatory, lab.draft, "B1", lab.key(), plain_documents);
        CHECK(refused(issued) == FaultCode::damaged);
        CHECK(issued.fault().line().find(std::string(one.subject) + " " + std::to_string(one.id)) !=
              std::string::npos);
        CHECK(issued.fault().remedy.find("register check") != std::string::npos);
        behind_its_back(
            *raw, one.table,
            issued_row(one.table, column + " = substr(" + column + ", 1, length(" + column + ") - 1)",
                       one.id));
    }
    // Work that was moved to another order, where nobody looks.
    const Id elsewhere = got(lab.reg.open_order(technician, {0,
                                                             got(lab.reg.put_gauge(technician,
                                                                                   [&] {
                                                                                       GaugeEntry other = got(
                                                                                           lab.reg.gauge(1));
                                                                                       other.id = 0;
                                                                                       other.serial = "EX-9";
                                                                                       return other;
                                                                                   }())),
                                                             "2026-03-03", "", "", ""}));
    for (const char* table : {"findings", "adjustments"}) {
        const std::string move = std::string("UPDATE ") + table + " SET order_id = ";
        behind_its_back(*raw, table, move + std::to_string(elsewhere));
        CHECK(refused(lab.reg.issue(signatory, lab.draft, "B1", lab.key(), plain_documents)) ==
              FaultCode::damaged);
        behind_its_back(*raw, table, move + "1");
    }
    behind_its_back(*raw, "number_series", "UPDATE number_series SET year = 2027");
    behind_its_back(*raw, "number_series", "INSERT INTO number_series (bench, year) VALUES ('B1', 2026)");
    CHECK(refused(lab.reg.issue(signatory, lab.draft, "B1", lab.key(), plain_documents)) ==
          FaultCode::damaged);
    behind_its_back(*raw, "number_series", "DELETE FROM number_series WHERE year = 2026");
    behind_its_back(*raw, "number_series", "UPDATE number_series SET year = 2026");
    CHECK(got(lab.reg.issue(signatory, lab.draft, "B1", lab.key(), plain_documents)).number ==
          "B1-2026-00002");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a draft that was never checked is not issued, whatever its row says", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    Draft wish;
    wish.as_found = lab.entered(record_of("EX-1"));
    const Id id = got(lab.reg.draft(technician, wish));
    const std::string checked =
        std::string("state = 'checked', checked_by = 3, checked_at = '") + day_of_change + "'";
    const std::unique_ptr<Database> raw = lab.raw();
    behind_its_back(*raw, "certificates", issued_row("certificates", checked, id));
    CHECK(refused(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)) == FaultCode::damaged);
    CHECK(refused(lab.reg.send_back(checker, id, "look again")) == FaultCode::damaged);
    CHECK(refused(lab.reg.discard(technician, id, "by mistake")) == FaultCode::damaged);

    // As a program of before let it pass: the inspection tells.
    logged_as_it_is(*raw, "certificate", id, "C. Checker", day_of_change);
    got(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents));
    const seal::PublicKeys known = lab.public_keys();
    CHECK(told_of(got(lab.reg.inspect(&known)), "was never checked by whom it names"));
}

TEMPLATE_TEST_CASE("register: a certificate says who drafted and checked it, and the log says the same", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    const auto told = [&](const std::string& what) {
        const seal::PublicKeys known = lab.public_keys();
        return told_of(got(lab.reg.inspect(&known)), what);
    };
    // Sent back and checked once more is as it should be.
    Draft wish;
    wish.as_found = lab.entered(record_of("EX-1"));
    const Id first = got(lab.reg.draft(technician, wish));
    done(lab.reg.mark_checked(checker, first));
    done(lab.reg.send_back(checker, first, "look again"));
    done(lab.reg.mark_checked(checker, first));
    lab.issued(first);
    lab.inspected();
    SECTION("sent back, and not checked again") {
        const Id id = lab.checked(lab.entered(record_of("EX-2")));
        done(lab.reg.send_back(checker, id, "look again"));
        behind_its_back(
            *raw, "certificates",
            issued_row("certificates",
                       std::string("state = 'checked', checked_by = 3, checked_at = '") + day_of_change + "'",
                       id));
        logged_as_it_is(*raw, "certificate", id, "C. Checker", day_of_change);
        lab.issued(id);
        CHECK(told("was never checked by whom it names"));
    }
    SECTION("checked by another") {
        const Id id = lab.checked(lab.entered(record_of("EX-2")));
        behind_its_back(*raw, "certificates", issued_row("certificates", "checked_by = 1", id));
        logged_as_it_is(*raw, "certificate", id, "C. Checker", day_of_change);
        lab.issued(id);
        CHECK(told("was never checked by whom it names"));
    }
    SECTION("what was checked was another measurement") {
        const Id id = lab.checked(lab.entered(record_of("EX-2")));
        const Id other = lab.entered(record_of("EX-2", "2026-03-03"));
        behind_its_back(
            *raw, "certificates",
            issued_row("certificates",
                       "as_found_id = " + std::to_string(other) + ", calibrated_on = '2026-03-03'", id));
        logged_as_it_is(*raw, "certificate", id, "C. Checker", day_of_change);
        lab.issued(id);
        CHECK(told("was never drafted by whom it names"));
    }
}

TEMPLATE_TEST_CASE("register: an issued record is the stored one, with what issuing adds", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    const Id record = lab.entered(record_of("EX-1"));
    const Id id = lab.checked(record);
    const Id other = lab.entered(record_of("EX-1", "2026-03-02", State::as_found, 6.2));
    const std::string kept = raw->row("SELECT sha256 FROM records WHERE id = :p1", "t", {record})->text(0);
    const std::string instead = raw->row("SELECT sha256 FROM records WHERE id = :p1", "t", {other})->text(0);
    behind_its_back(*raw, "records", issued_row("records", "sha256 = '" + instead + "'", record));
    CHECK(refused(lab.reg.issue(signatory, id, "B1", lab.key(), plain_documents)) == FaultCode::damaged);
    // Issued by a program that did not look, and the row put back.
    logged_as_it_is(*raw, "record", record, "T. Technician", day_of_change);
    lab.issued(id);
    behind_its_back(*raw, "records", issued_row("records", "sha256 = '" + kept + "'", record));
    logged_as_it_is(*raw, "record", record, "T. Technician", day_of_change);
    const seal::PublicKeys known = lab.public_keys();
    CHECK(told_of(got(lab.reg.inspect(&known)), "its record is not the one that was entered and checked"));
}

TEMPLATE_TEST_CASE("register: a row that was changed behind its back is not changed further", "", OnSqlite,
                   OnPostgresql) {
    Waiting<TestType> lab;
    const std::unique_ptr<Database> raw = lab.raw();
    behind_its_back(*raw, "gauges", "UPDATE gauges SET catch_diameter_mm = 190 WHERE id = 1");
    GaugeEntry gauge = got(lab.reg.gauge(lab.gauge));
    gauge.note = "moved";
    const Result<Id> put = lab.reg.put_gauge(technician, gauge);
    CHECK(refused(put) == FaultCode::damaged);
    CHECK(put.fault().where == "gauge 1");
    CHECK(told_of(got(lab.reg.inspect(nullptr)), "is not what the audit log says was entered last"));
    done(lab.reg.discard(technician, lab.draft, "not wanted"));
    behind_its_back(*raw, "orders", "UPDATE orders SET condition = 'clean'");
    CHECK(refused(lab.reg.close_order(technician, 1)) == FaultCode::damaged);
}

TEMPLATE_TEST_CASE("register: whoever was given rights behind its back has none", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const Id id = lab.checked(lab.entered(record_of("EX-1")));
    const std::unique_ptr<Database> raw = lab.raw();
    behind_its_back(*raw, "people", "UPDATE people SET may_issue = 1 WHERE name = 'T. Technician'");
    CHECK(refused(lab.reg.issue(technician, id, "B1", lab.key(), plain_documents)) == FaultCode::damaged);
    behind_its_back(*raw, "people",
                    "INSERT INTO people (name, name_key, may_measure, may_check, may_issue, active, login) "
                    "VALUES ('N. Nobody', '" +
                        person_key("N. Nobody") + "', 1, 1, 1, 1, '')");
    CHECK(refused(lab.reg.issue(Actor{"N. Nobody", day_of_change}, id, "B1", lab.key(), plain_documents)) ==
          FaultCode::damaged);
}

TEST_CASE("register: states are held apart by 128 bits of their digest") {
    std::string one(32, 'a');
    std::string other = one;
    other[15] = 'b';
    CHECK(short_state(seal::to_base64(one)) != short_state(seal::to_base64(other)));
    other = one;
    other[12] = 'b';
    CHECK(short_state(seal::to_base64(one)) != short_state(seal::to_base64(other)));
    CHECK(short_state("no digest") != short_state("another"));
}
