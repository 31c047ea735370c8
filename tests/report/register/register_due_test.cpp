#include "tests/report/register_fixture.hpp"
#include "tests/report/table_column.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEMPLATE_TEST_CASE(
    "register: the due list knows only intervals that were agreed (ISO/IEC 17025:2017 7.8.4.3, from memory)",
    "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1");
    lab.certified("EX-2", "2026-05-31");
    CHECK(got(lab.reg.due({})).rows.empty());  // nothing was agreed
    Customer customer = got(lab.reg.customer("Imaginary Weather Network"));
    customer.interval = AgreedInterval{24, "frame contract 12, 2026-01-15"};
    const Actor later = at(technician, "2026-06-01T09:00:00Z");
    got(lab.reg.put_customer(later, customer));
    Table due = got(lab.reg.due({}));
    CHECK(column_of(due, "serial") == Texts{"EX-1", "EX-2"});
    CHECK(column_of(due, "due_on") == Texts{"2028-03-05", "2028-05-31"});
    CHECK(column_of(due, "station") == Texts{"Example Hill", "Example Hill"});
    CHECK(column_of(due, "model") == Texts{"Example TB-200", "Example TB-200"});
    CHECK(column_of(due, "kind") == Texts{"siphon-200", "siphon-200"});
    CHECK(column_of(due, "customer") == Texts{customer.name, customer.name});
    CHECK(column_of(due, "last_calibrated_on") == Texts{"2026-03-05", "2026-05-31"});

    GaugeEntry gauge = got(lab.reg.gauges_with_serial("EX-2")).at(0);
    gauge.interval = AgreedInterval{9, "order 17"};  // its own goes before the customer's
    got(lab.reg.put_gauge(later, gauge));
    CHECK(got(lab.reg.gauge(gauge.id)).due_on == "2027-02-28");
    ListFilter filter;
    filter.from_month = "2027-02";
    filter.to_month = "2027-02";
    CHECK(column_of(got(lab.reg.due(filter)), "serial") == Texts{"EX-2"});
    for (const char* month : {"2027-01", "2027-03"}) {
        filter.from_month = filter.to_month = month;
        CHECK(got(lab.reg.due(filter)).rows.empty());
    }
    filter = {};
    filter.customer = "Imaginary Weather Network";
    filter.station = "Example Hill";
    CHECK(column_of(got(lab.reg.due(filter)), "serial") == Texts{"EX-2", "EX-1"});
    filter.limit = 1;
    due = got(lab.reg.due(filter));
    CHECK(column_of(due, "serial") == Texts{"EX-2"});
    CHECK(due.cut);
    filter.station = "Nowhere";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::unknown_field);
    filter = {};
    filter.from_month = "2027-13";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::bad_value);
    filter.from_month = "2027-06";
    filter.to_month = "2027-01";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::inconsistent);
    filter = {};
    filter.station = "Example Hill";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::missing_field);

    // A certificate that comes later moves the date; an agreement that ends takes the gauge off the list.
    const std::string day = "2027-02-20";
    lab.issued(lab.checked(lab.entered(record_of("EX-2", day), day), 0, day), day);
    CHECK(got(lab.reg.gauge(gauge.id)).due_on == "2027-11-20");
    CHECK(got(lab.reg.gauge(gauge.id)).last_calibrated_on == day);
    customer.interval.reset();
    got(lab.reg.put_customer(at(technician, day + "T09:00:00Z"), customer));
    CHECK(column_of(got(lab.reg.due({})), "serial") == Texts{"EX-2"});
    lab.inspected();
}
