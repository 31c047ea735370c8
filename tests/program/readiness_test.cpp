// May this bench be used march_10th: each limit on both sides.
#include "bench/program/instruments/readiness.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using program::readiness_of;

namespace {

bench::BenchDescription bench_due(const std::string& due_on) {
    bench::BenchDescription bench;
    bench::InstrumentDescription balance;
    balance.role = "balance";
    balance.serial = "INV-B1";
    balance.due_on = due_on;
    bench.instruments.push_back(balance);
    return bench;
}

constexpr const char* march_10th = "2026-03-10T08:00:00Z";

}  // namespace

TEST_CASE("A calibration is good on the day it is due, and past due the day after") {
    CHECK(readiness_of(bench_due("2026-03-10"), {}, march_10th, "").ok());
    CHECK(readiness_of(bench_due("2026-03-11"), {}, march_10th, "").ok());
    CHECK(readiness_of(bench_due(""), {}, march_10th, "").ok());
    const auto overdue = readiness_of(bench_due("2026-03-09"), {}, march_10th, "");
    REQUIRE_FALSE(overdue.ok());
    CHECK(overdue.fault().code == FaultCode::not_permitted);
    CHECK(overdue.fault().what == "the calibration of the balance (INV-B1) was due on 2026-03-09");
}

TEST_CASE("What was accepted goes to the journal with its reason") {
    const auto accepted =
        readiness_of(bench_due("2026-03-09"), {}, march_10th, "the new one comes on Friday");
    REQUIRE(accepted.ok());
    REQUIRE(accepted->concessions.size() == 1);
    CHECK(accepted->concessions[0].role == "balance");
    CHECK(accepted->concessions[0].serial == "INV-B1");
    CHECK(accepted->concessions[0].since == "2026-03-09");
    CHECK(accepted->concessions[0].reason == "the new one comes on Friday");
    REQUIRE(accepted->remarks.size() == 1);
    CHECK(accepted->remarks[0].find("the new one comes on Friday") != std::string::npos);
    CHECK(readiness_of(bench_due("2026-03-10"), {}, march_10th, "a reason for nothing")->concessions.empty());
}

TEST_CASE("A balance that failed its last check is not used, and one that passed since is") {
    bench::BenchChecks checks;
    bench::BalanceCheck failed;
    failed.at = "2026-03-01T08:00:00Z";
    failed.serial = "INV-B1";
    failed.mass_g = 500;
    failed.error_g = 0.12;
    checks.balances.push_back(failed);
    const auto refused = readiness_of(bench_due("2026-06-01"), checks, march_10th, "");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.fault().what.find("failed its check of 2026-03-01") != std::string::npos);
    const auto accepted = readiness_of(bench_due("2026-06-01"), checks, march_10th, "trial");
    REQUIRE(accepted.ok());
    REQUIRE(accepted->concessions.size() == 1);
    CHECK(accepted->concessions[0].nonconformity == bench::Nonconformity::check_failed);
    bench::BalanceCheck passed = failed;
    passed.at = "2026-03-02T08:00:00Z";
    passed.passed = true;
    checks.balances.push_back(passed);
    CHECK(readiness_of(bench_due("2026-06-01"), checks, march_10th, "").ok());
}
