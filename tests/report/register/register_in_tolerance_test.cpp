#include "tests/report/register_fixture.hpp"
#include "tests/report/table_column.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEMPLATE_TEST_CASE("register: the fraction in tolerance as found is counted by kind and age", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const auto visit = [&](const std::string& serial, const std::string& day, calib::Verdict verdict) {
        Record record = record_of(serial, day);
        record.evaluation.conformity.overall = verdict;
        lab.issued(lab.checked(lab.entered(record, day), 0, day), day);
    };
    using calib::Verdict;
    visit("EX-1", "2026-03-05", Verdict::pass);
    visit("EX-2", "2026-03-05", Verdict::pass);
    visit("EX-1", "2028-03-10", Verdict::fail);
    visit("EX-2", "2028-03-10", Verdict::pass);
    visit("EX-3", "2028-03-11", Verdict::undecided);
    visit("EX-4", "2028-03-11", Verdict::no_limit);
    const Table table = got(lab.reg.in_tolerance());
    CHECK(as_csv(table) ==
          "kind,age_years,found,within,outside,undecided,within_percent\n"
          "siphon-200,0,3,2,0,1,66.7\n"
          "siphon-200,2,2,1,1,0,50.0\n");
    CHECK(got(lab.reg.in_tolerance("spoon-100")).rows.empty());

    GaugeEntry gauge = got(lab.reg.gauges_with_serial("EX-1")).at(0);
    gauge.in_service_on = "2020-01-01";  // then age counts from there
    got(lab.reg.put_gauge(at(technician, "2028-03-12T09:00:00Z"), gauge));
    CHECK(as_csv(got(lab.reg.in_tolerance("siphon-200"))).find("siphon-200,8,1,0,1,0,0.0") !=
          std::string::npos);

    Draft draft;
    draft.as_found = lab.entered(record_of("EX-5", "2028-03-11"), "2028-03-12");
    got(lab.reg.draft(at(technician, "2028-03-12T09:00:00Z"), draft));
    CHECK(column_of(got(lab.reg.open_work()), "serial") == Texts{"EX-5"});
    const Table log = got(lab.reg.audit_log(2));
    CHECK(column_of(log, "action") == Texts{"enter", "draft"});
    lab.inspected();
}
