#include "tests/report/register_fixture.hpp"
#include "tests/report/table_column.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

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
    REQUIRE(column_of(moved, "serial") == Texts{"EX-1"});
    CHECK(std::get<Table::Number>(moved.rows[0][5]).value == Approx(-3.0).margin(0.1));
    CHECK(column_of(moved, "from") == Texts{"2026-03-05"});
    CHECK(column_of(got(lab.reg.drifted("siphon-200", 0.1, 3, "2028-12-31")), "serial") ==
          Texts{"EX-1", "EX-2"});
    CHECK(column_of(got(lab.reg.drifted("", 1.2, 1.9, "2028-12-31")), "serial") ==
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
    REQUIRE(column_of(moved, "serial") == Texts{"EX-1"});
    CHECK(column_of(moved, "from") == Texts{"2027-03-05"});
    // v = V0 + 0.32 s * 1.745 mL/s: 6.709 mL, then 6.524 mL; 100 * 6.283 mL (1 / 6.524 mL - 1 / 6.709 mL).
    CHECK(std::get<Table::Number>(moved.rows[0][5]).value == Approx(2.65).margin(0.05));
    CHECK(std::get<Table::Number>(moved.rows[0][6]).value == Approx(200).margin(5));
    lab.inspected();
}
