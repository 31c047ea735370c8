// A record tells which instrument was past due when the run began, whether somebody accepted it or not.
#include <catch2/catch.hpp>

#include "bench/program/results/record_builder.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;

namespace {

const bench::ReplayedRun& finished_run() {
    static const test::VirtualRun run = test::run_virtual({});
    REQUIRE(run.replayed);
    return *run.replayed;
}

report::Record record_with_balance_due(const std::string& due_on,
                                       std::vector<bench::Concession> concessions = {}) {
    bench::ReplayedRun run = finished_run();
    run.concessions = std::move(concessions);
    for (auto& instrument : run.bench.instruments)
        instrument.due_on = instrument.role == "balance" ? due_on : "";
    const auto record = program::record_of_run(run, {"journal.twj", std::string(64, '0')}, {});
    REQUIRE(record);
    return *record;
}

}  // namespace

TEST_CASE("An overdue calibration is in the record, one that is due today is not") {
    const std::string day = finished_run().started_at.substr(0, 10);
    CHECK(record_with_balance_due(day).concessions.empty());
    const auto overdue = record_with_balance_due("2001-02-03");
    REQUIRE(overdue.concessions.size() == 1);
    CHECK(overdue.concessions[0].nonconformity == report::Nonconformity::calibration_overdue);
    CHECK(overdue.concessions[0].role == "balance");
    CHECK(overdue.concessions[0].since == "2001-02-03");
    CHECK(overdue.concessions[0].reason.empty());
}

TEST_CASE("An overdue calibration that was accepted is told once, with its reason") {
    bench::Concession accepted;
    accepted.role = "balance";
    for (const auto& instrument : finished_run().bench.instruments)
        if (instrument.role == "balance") accepted.serial = instrument.serial;
    accepted.since = "2001-02-03";
    accepted.reason = "the new one comes on Friday";
    const auto record = record_with_balance_due("2001-02-03", {accepted});
    REQUIRE(record.concessions.size() == 1);
    CHECK(record.concessions[0].reason == "the new one comes on Friday");
}
