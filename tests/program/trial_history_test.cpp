// Years in service as the register tells them: what counts as a visit, an adjustment, and closures that were
// missed.
#include "bench/program/results/trial_history.hpp"

#include <catch2/catch.hpp>

#include "report/record/statement_of.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::test;

namespace {

// What may be claimed depends on the day: instruments fall due.
report::Record stated(report::Record record) {
    report::state(record);
    return record;
}

report::IssueOptions accepted() {
    report::IssueOptions out;
    out.reason = "known, and told to the customer";
    return out;
}

}  // namespace

TEST_CASE("trial: service, adjustments and missed closures per gauge-year", "[trial]") {
    Laboratory<OnSqlite> lab;
    // In service for two years; the second visit adjusts it, and the screws' turns were entered, two days
    // late.
    lab.certified("INV-1", "2026-03-02");
    report::Record found = record_of("INV-1", "2028-03-01");
    auto missed = calib::finding_of(calib::FindingId::contact_missed,
                                    {{"contact", 2, 0}, {"count", 3, 0}, {"tips", 120, 0}});
    missed.step = 1;
    found.findings.push_back(missed);
    const report::Record left = record_of("INV-1", "2028-03-02", report::State::as_left);
    const auto gauge = got(lab.reg.gauges_with_serial("INV-1")).front();
    report::Order order;
    order.gauge = gauge.id;
    order.received_on = "2028-02-28";
    const report::Id opened = got(lab.reg.open_order(at(technician, "2028-02-28T09:00:00Z"), order));
    report::Adjustment adjustment;
    adjustment.order = opened;
    adjustment.made_on = "2028-03-04";
    adjustment.turns_a = 0.25;
    got(lab.reg.add_adjustment(at(technician, "2028-03-04T09:00:00Z"), adjustment));
    const report::Id second = lab.checked(lab.entered(stated(found), "2028-03-05"),
                                          lab.entered(stated(left), "2028-03-05"), "2028-03-05");
    got(lab.reg.issue(at(signatory, "2028-03-05T09:00:00Z"), second, "B1", lab.key(), plain_documents,
                      accepted()));
    // A third visit whose records alone tell of an adjustment.
    const report::Id third = lab.checked(
        lab.entered(stated(record_of("INV-1", "2029-03-01")), "2029-03-03"),
        lab.entered(stated(record_of("INV-1", "2029-03-02", report::State::as_left)), "2029-03-03"),
        "2029-03-03");
    got(lab.reg.issue(at(signatory, "2029-03-03T09:00:00Z"), third, "B1", lab.key(), plain_documents,
                      accepted()));

    const auto trial = program::trial_from_register(lab.reg, {}, "2030-03-02");
    if (!trial) FAIL(trial.fault().line());
    CHECK(trial->records.size() == 5);
    REQUIRE(trial->histories.size() == 1);
    const report::KindHistory& history = trial->histories.front();
    CHECK(history.gauges == 1);
    CHECK(history.gauge_years == Approx(4).margin(0.01));
    CHECK(history.services.events == 1);
    CHECK(history.adjustments.events == 2);
    CHECK(history.missed_closures.events == 1);
    // Garwood's limits for one event, from memory: 0.0253 to 5.572.
    CHECK(history.missed_closures.low == Approx(0.0253 / 4).epsilon(0.01));
    CHECK(history.missed_closures.high == Approx(5.572 / 4).epsilon(0.01));
}
