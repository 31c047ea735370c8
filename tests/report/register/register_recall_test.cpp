#include "tests/report/register_fixture.hpp"
#include "tests/report/table_column.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEMPLATE_TEST_CASE("register: certificates are recalled by the instrument they rest on", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const auto certify = [&](const std::string& serial, const std::string& day, const std::string& balance) {
        Record record = record_of(serial, day);
        record.instruments[0].serial = balance;
        lab.issued(lab.checked(lab.entered(record, day), 0, day), day);
    };
    certify("EX-1", "2026-03-05", "BAL-01");
    certify("EX-2", "2026-04-05", "BAL-02");
    certify("EX-3", "2026-05-05", "bal-01");  // the same one, spelled otherwise
    certify("EX-4", "2026-06-05", "BAL-01");
    const Id balance = got(lab.reg.instruments_with_serial("BAL-01")).at(0).id;
    CHECK(column_of(got(lab.reg.recall(balance, "2026-01-01", "2026-12-31")), "serial") ==
          Texts{"EX-1", "EX-3", "EX-4"});
    CHECK(column_of(got(lab.reg.recall(balance, "2026-03-06", "2026-06-05")), "serial") ==
          Texts{"EX-3", "EX-4"});
    CHECK(column_of(got(lab.reg.recall(balance, "2026-03-05", "2026-06-04")), "certificate") ==
          Texts{"B1-2026-00001", "B1-2026-00003"});
    CHECK(got(lab.reg.recall(balance, "2026-01-01", "2026-12-31", 2)).cut);
    CHECK(refused(lab.reg.recall(999, "2026-01-01", "2026-12-31")) == FaultCode::unknown_field);
    CHECK(refused(lab.reg.recall(balance, "", "2026-12-31")) == FaultCode::missing_field);
    CHECK(refused(lab.reg.recall(balance, "2026-12-31", "2026-01-01")) == FaultCode::inconsistent);
    const Actor later = at(technician, "2026-07-01T09:00:00Z");
    CHECK(column_of(got(lab.reg.instrument_failed(later, balance, "2026-04-01", "2026-06-30",
                                                  "linearity out by 0.3 g")),
                    "serial") == Texts{"EX-3", "EX-4"});
    CHECK(refused(lab.reg.instrument_failed(later, balance, "2026-07-01", "2026-06-30", "x")) ==
          FaultCode::inconsistent);
    CHECK(refused(lab.reg.instrument_failed(later, balance, "", "2026-06-30", "x")) ==
          FaultCode::missing_field);
    CHECK(refused(lab.reg.instrument_failed(later, balance, "2026-04-31", "2026-06-30", "x")) ==
          FaultCode::bad_value);
    CHECK(refused(lab.reg.instrument_failed(later, balance, "2026-04-01", "2026-07-03", "x")) ==
          FaultCode::inconsistent);
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: nothing new is certified on an instrument that was found faulty", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    std::string entered_on;  // empty: the day it was measured
    const auto measured = [&](const std::string& serial, const std::string& day,
                              const std::string& calibrated_on = "2025-11-03") {
        Record record = record_of(serial, day);
        record.instruments[0].serial = "BAL-01";
        record.instruments[0].calibrated_on = calibrated_on;
        return lab.entered(record, entered_on.empty() ? day : entered_on);
    };
    const Actor later = at(technician, "2026-07-01T09:00:00Z");
    const auto drafted = [&](Id record) {
        Draft draft;
        draft.as_found = record;
        return lab.reg.draft(later, draft);
    };
    const Id sound = measured("EX-1", "2026-04-01");
    const Id checked_before = lab.checked(measured("EX-2", "2026-04-02"), 0, "2026-04-02");
    const Id balance = got(lab.reg.instruments_with_serial("BAL-01")).at(0).id;
    got(lab.reg.instrument_failed(later, balance, "2026-04-01", "2026-06-30", "0.3 g low"));
    entered_on = "2026-07-01";

    CHECK(refused(drafted(measured("EX-3", "2026-04-02"))) == FaultCode::not_permitted);
    CHECK(refused(drafted(measured("EX-4", "2026-06-30"))) == FaultCode::not_permitted);
    const auto issue = lab.reg.issue(at(signatory, "2026-07-01T09:00:00Z"), checked_before, "B1", lab.key(),
                                     plain_documents);
    CHECK(refused(issue) == FaultCode::not_permitted);
    CHECK(issue.fault().line().find("BAL-01, found faulty on 2026-06-30 and last known to be good on "
                                    "2026-04-01 (0.3 g low)") != std::string::npos);

    // The same before the water is poured, and in the list of instruments.
    Record planned = record_of("EX-3");
    planned.instruments[0].serial = "BAL-01";
    planned.instruments[0].calibrated_on = "2026-06-29";
    CHECK(refused(lab.reg.check_run(planned, "B1", "2026-07-02")) == FaultCode::not_permitted);
    done(lab.reg.check_run(planned, "B1", "2026-04-01"));
    planned.instruments[0].calibrated_on = "2026-06-30";
    done(lab.reg.check_run(planned, "B1", "2026-07-02"));
    const auto faults_of_balance = [&] {
        Texts out;
        const Table list = got(lab.reg.list_instruments());
        for (const auto& row : list.rows)
            if (text_of(row[0]) == "BAL-01") out.push_back(text_of(row.back()));
        return out;
    };
    CHECK(faults_of_balance() == Texts{"2026-06-30"});

    CHECK(drafted(sound));
    CHECK(drafted(measured("EX-5", "2026-07-01", "2026-06-30")));
    CHECK(faults_of_balance() == Texts{"2026-06-30", ""});
    lab.inspected();
}
