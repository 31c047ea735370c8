#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

std::vector<std::string> column(const Table& table, const std::string& name) {
    std::vector<std::string> out;
    for (std::size_t i = 0; i < table.columns.size(); ++i)
        if (table.columns[i] == name)
            for (const auto& row : table.rows) {
                if (const auto* text = std::get_if<std::string>(&row[i]))
                    out.push_back(*text);
                else if (const auto* integer = std::get_if<std::int64_t>(&row[i]))
                    out.push_back(std::to_string(*integer));
                else
                    out.emplace_back("-");
            }
    return out;
}

using Texts = std::vector<std::string>;

}  // namespace

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
    CHECK(column(due, "serial") == Texts{"EX-1", "EX-2"});
    CHECK(column(due, "due_on") == Texts{"2028-03-05", "2028-05-31"});
    CHECK(column(due, "station") == Texts{"Example Hill", "Example Hill"});

    GaugeEntry gauge = got(lab.reg.gauges_with_serial("EX-2")).at(0);
    gauge.interval = AgreedInterval{9, "order 17"};  // its own goes before the customer's
    got(lab.reg.put_gauge(later, gauge));
    CHECK(got(lab.reg.gauge(gauge.id)).due_on == "2027-02-28");
    ListFilter filter;
    filter.from_month = "2027-02";
    filter.to_month = "2027-02";
    CHECK(column(got(lab.reg.due(filter)), "serial") == Texts{"EX-2"});
    for (const char* month : {"2027-01", "2027-03"}) {
        filter.from_month = filter.to_month = month;
        CHECK(got(lab.reg.due(filter)).rows.empty());
    }
    filter = {};
    filter.customer = "Imaginary Weather Network";
    filter.station = "Example Hill";
    CHECK(column(got(lab.reg.due(filter)), "serial") == Texts{"EX-2", "EX-1"});
    filter.limit = 1;
    due = got(lab.reg.due(filter));
    CHECK(column(due, "serial") == Texts{"EX-2"});
    CHECK(due.cut);
    filter.station = "Nowhere";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::unknown_field);
    filter = {};
    filter.from_month = "2027-13";
    CHECK(refused(lab.reg.due(filter)) == FaultCode::bad_value);
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
    CHECK(column(got(lab.reg.due({})), "serial") == Texts{"EX-2"});
    lab.inspected();
}

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
    CHECK(column(got(lab.reg.recall(balance, "2026-01-01", "2026-12-31")), "serial") ==
          Texts{"EX-1", "EX-3", "EX-4"});
    CHECK(column(got(lab.reg.recall(balance, "2026-03-06", "2026-06-05")), "serial") ==
          Texts{"EX-3", "EX-4"});
    CHECK(column(got(lab.reg.recall(balance, "2026-03-05", "2026-06-04")), "certificate") ==
          Texts{"B1-2026-00001", "B1-2026-00003"});
    CHECK(got(lab.reg.recall(balance, "2026-01-01", "2026-12-31", 2)).cut);
    CHECK(refused(lab.reg.recall(999, "2026-01-01", "2026-12-31")) == FaultCode::unknown_field);
    CHECK(refused(lab.reg.recall(balance, "", "2026-12-31")) == FaultCode::missing_field);
    const Actor later = at(technician, "2026-07-01T09:00:00Z");
    CHECK(column(got(lab.reg.instrument_failed(later, balance, "2026-04-01", "2026-06-30",
                                               "linearity out by 0.3 g")),
                 "serial") == Texts{"EX-3", "EX-4"});
    CHECK(refused(lab.reg.instrument_failed(later, balance, "2026-07-01", "2026-06-30", "x")) ==
          FaultCode::inconsistent);
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: drift over years leaves out what adjustments moved", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const auto visit = [&](const std::string& serial, const std::string& day, double found, double left) {
        const Id as_found = lab.entered(record_of(serial, day, report::State::as_found, found), day);
        const Id as_left =
            left > 0 ? lab.entered(record_of(serial, day, report::State::as_left, left), day) : 0;
        lab.issued(lab.checked(as_found, as_left, day), day);
    };
    // EX-1 moves by +1.5 % of volume twice, set back once: 3 % in all. EX-2 stays. EX-3 jumps, but by the
    // screws.
    visit("EX-1", "2026-03-05", 6.15, 0);
    visit("EX-2", "2026-03-06", 6.15, 0);
    visit("EX-3", "2026-03-07", 6.15, 5.95);
    visit("EX-1", "2027-03-05", 6.15 * 1.015, 6.15);
    visit("EX-3", "2027-03-06", 5.95, 0);
    visit("EX-1", "2028-03-05", 6.15 * 1.015, 0);
    visit("EX-2", "2028-03-06", 6.15 * 1.002, 0);
    const Table moved = got(lab.reg.drifted("siphon-200", 2.0, 3, "2028-12-31"));
    REQUIRE(column(moved, "serial") == Texts{"EX-1"});
    CHECK(std::get<Table::Number>(moved.rows[0][5]).value == Approx(-3.0).margin(0.1));
    CHECK(column(moved, "from") == Texts{"2026-03-05"});
    CHECK(column(got(lab.reg.drifted("siphon-200", 0.1, 3, "2028-12-31")), "serial") ==
          Texts{"EX-1", "EX-2"});
    CHECK(column(got(lab.reg.drifted("", 1.2, 1.9, "2028-12-31")), "serial") ==
          Texts{"EX-1"});  // one step only
    CHECK(got(lab.reg.drifted("spoon-100", 0, 3, "2028-12-31")).rows.empty());
    CHECK(refused(lab.reg.drifted("", -1, 3, "2028-12-31")) == FaultCode::bad_value);
    CHECK(refused(lab.reg.drifted("", 1, 3, "2028")) == FaultCode::bad_value);
    lab.inspected();
}

TEMPLATE_TEST_CASE(
    "register: at a rate that the first record did not reach, drift is what the later ones tell", "",
    OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    const auto entered = [&](const std::string& day, report::State state, double V0_mL,
                             const std::vector<double>& intensities_mm_h) {
        SampleOptions wish;
        wish.V0_mL = V0_mL;
        wish.intensities_mm_h = intensities_mm_h;
        report::Record record = record_of("EX-1", day, state, V0_mL);
        record.evaluation = sample_record(wish).evaluation;
        return lab.entered(record, day);
    };
    const auto visit = [&](const std::string& day, Id found, Id left = 0) {
        lab.issued(lab.checked(found, left, day), day);
    };
    // Down by 3 % and set back, then up by 3 %: nothing in all where both stretches are known, 3 % where only
    // the second is.
    const std::vector<double> low{20, 90}, all{20, 90, 200};
    visit("2026-03-05", entered("2026-03-05", report::State::as_found, 6.15, low));
    visit("2027-03-05", entered("2027-03-05", report::State::as_found, 6.15 * 1.03, all),
          entered("2027-03-05", report::State::as_left, 6.15, all));
    visit("2028-03-05", entered("2028-03-05", report::State::as_found, 6.15 * 0.97, all));
    const Table moved = got(lab.reg.drifted("", 2.0, 3, "2028-12-31"));
    REQUIRE(column(moved, "serial") == Texts{"EX-1"});
    CHECK(column(moved, "from") == Texts{"2027-03-05"});
    // v = V0 + 0.32 s * 1.745 mL/s: 6.709 mL, then 6.524 mL; 100 * 6.283 mL (1 / 6.524 mL - 1 / 6.709 mL).
    CHECK(std::get<Table::Number>(moved.rows[0][5]).value == Approx(2.65).margin(0.05));
    CHECK(std::get<Table::Number>(moved.rows[0][6]).value == Approx(200).margin(5));
    lab.inspected();
}

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
    CHECK(column(got(lab.reg.open_work()), "serial") == Texts{"EX-5"});
    const Table log = got(lab.reg.audit_log(2));
    CHECK(column(log, "action") == Texts{"enter", "draft"});
    lab.inspected();
}
