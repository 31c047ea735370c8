// What is kept of a bench's pump and balance: written and read back, the newest found, faults placed.
#include "bench/descriptions/bench_checks.hpp"

#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright::bench;

TEST_CASE("bench checks: what is written is read back, and the newest of an instrument is found") {
    BenchChecks checks;
    checks.pumps.push_back(
        {"2026-11-01T08:00:00Z", "P-1", 12.5, 0.97, 0.004, {{20, 19.4, 0.05}, {60, 58.3, 0.2}}});
    checks.pumps.push_back({"2026-11-02T08:00:00Z", "P-2", std::nullopt, 1.01, 0.002, {{20, 20.2, 0.05}}});
    checks.pumps.push_back({"2026-11-03T08:00:00Z", "P-1", 20.0, 0.95, 0.003, {{20, 19.0, 0.05}}});
    checks.balances.push_back({"2026-11-01T08:00:00Z", "B \"1\"", 500, 0.001, -0.02, 0.01, 0.05, true});
    const std::string text = text_of(checks);
    const auto read = parse_bench_checks({"checks.toml", text});
    REQUIRE(read);
    CHECK(text_of(*read) == text);
    REQUIRE(read->pump("P-1") != nullptr);
    CHECK(read->pump("P-1")->scale == 0.95);
    CHECK(read->pump("P-1")->tube_h == 20.0);
    CHECK_FALSE(read->pump("P-2")->tube_h);
    CHECK(read->pump("P-3") == nullptr);
    REQUIRE(read->balance("B \"1\"") != nullptr);
    CHECK(read->balance("B \"1\"")->error_g == -0.02);
    CHECK(read->balance("B \"1\"")->passed);
    REQUIRE(read->pumps[0].points.size() == 2);
    CHECK(read->pumps[0].points[1].delivered_mL_min == 58.3);
}

TEST_CASE("bench checks: an error of minus nothing is written as it is read") {
    const auto checks = parse_bench_checks(
        {"checks.toml",
         "[[balance_check]]\nat = \"2026-11-02T08:00:00Z\"\nserial = \"B\"\nmass_g = 1000\nmass_u_g = 0\n"
         "error_g = -0.0\nerror_u_g = 0.01\nlimit_g = 0.03\n"});
    REQUIRE(checks);
    const std::string text = text_of(*checks);
    const auto again = parse_bench_checks({"again.toml", text});
    REQUIRE(again);
    CHECK(text_of(*again) == text);
}

TEST_CASE("bench checks: an empty file is none, a wrong one is named by its place") {
    const auto none = parse_bench_checks({"checks.toml", ""});
    REQUIRE(none);
    CHECK(none->pumps.empty());
    const auto unknown = parse_bench_checks({"checks.toml", "\nspeed = 1\n"});
    REQUIRE_FALSE(unknown);
    CHECK(unknown.fault().where == "checks.toml:2:1");
    const auto scale = parse_bench_checks(
        {"checks.toml",
         "[[pump_calibration]]\nat = \"x\"\nscale = nan\nrelative_u = 0\n[[pump_calibration.point]]\n"
         "set_mL_min = 1\ndelivered_mL_min = 1\nu_mL_min = 0\n"});
    REQUIRE_FALSE(scale);
    CHECK(scale.fault().where == "checks.toml:3:9");
}

TEST_CASE("bench checks: a tube's age is what was stated and the runs since, each run once") {
    BenchChecks checks;
    CHECK_FALSE(checks.tube("P-1"));
    checks.add({"2026-11-01T08:00:00Z", "P-1", 3});
    checks.add({"2026-11-01T08:00:00Z", "P-2", 40});
    REQUIRE(checks.tube("P-1"));
    CHECK(checks.tube("P-1")->hours == 3);
    CHECK_FALSE(checks.tube("P-1")->whole);
    checks.pumps.push_back({"2026-11-02T08:00:00Z", "P-1", 12.5, 0.97, 0.004, {{20, 19.4, 0.05}}});
    checks.add({"2026-11-02T08:00:00Z", "P-1", 0.5});  // the calibration's own
    checks.add({"2026-11-03T08:00:00Z", "P-1", 1});
    checks.add({"2026-11-03T08:00:00Z", "P-1", 1.75});  // resumed
    // A later calibration that states no age changes nothing of it.
    checks.pumps.push_back({"2026-11-04T08:00:00Z", "P-1", std::nullopt, 0.96, 0.004, {{20, 19.2, 0.05}}});
    CHECK(checks.tube("P-1")->hours == 12.5 + 0.5 + 1.75);
    CHECK(checks.tube("P-1")->whole);
    CHECK(checks.hours_since("P-1", "2026-11-03T00:00:00Z") == 1.75);
    const auto read = parse_bench_checks({"checks.toml", text_of(checks)});
    REQUIRE(read);
    CHECK(text_of(*read) == text_of(checks));
    CHECK(read->tube("P-1")->hours == checks.tube("P-1")->hours);
    // However many runs there are, the file stays small and no hour is lost.
    for (int k = 0; k < 1500; ++k)
        checks.add({"2027-01-01T" + std::to_string(10000 + k) + "Z", k % 2 == 0 ? "P-1" : "P-2", 0.25});
    CHECK(checks.pump_runs.size() == 1000);
    CHECK(checks.tube("P-1")->hours == Approx(12.5 + 0.5 + 1.75 + 750 * 0.25));
    CHECK(checks.tube("P-2")->hours == Approx(40 + 750 * 0.25));
    // A new tube.
    checks.pumps.push_back({"2027-02-01T08:00:00Z", "P-1", 0.0, 1.0, 0.004, {{20, 20, 0.05}}});
    CHECK(checks.tube("P-1")->hours == 0);
}
