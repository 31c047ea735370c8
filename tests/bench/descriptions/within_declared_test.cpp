#include "bench/descriptions/within_declared.hpp"

#include <catch2/catch.hpp>
#include <filesystem>

#include "tests/bench/descriptions/texts.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using tipwright::test::templates;

TEST_CASE("a plan beyond what the maker declares is refused in one line, or cut") {
    const auto gauge = load_gauge("bucket-150", templates);  // 300 mm/h
    const auto plan = load_plan("extended-500", templates);
    REQUIRE(gauge);
    REQUIRE(plan);
    const auto refused = check_within_declared(*gauge, *plan);
    REQUIRE_FALSE(refused);
    CHECK(refused.fault().code == FaultCode::inconsistent);
    CHECK(refused.fault().what.find("(500 mm/h)") != std::string::npos);
    CHECK(refused.fault().what.find("300 mm/h that the maker declares") != std::string::npos);
    CHECK(refused.fault().line().find('\n') == std::string::npos);
    CHECK(refused.fault().remedy.find("--within-declared") != std::string::npos);

    const auto cut = cut_to_declared(*gauge, *plan);
    REQUIRE(cut);
    CHECK(cut->plan.steps.size() == plan->plan.steps.size() - 1);
    for (const auto& step : cut->plan.steps) CHECK(step.intensity_mm_h <= 300);
    CHECK(check_within_declared(*gauge, *cut));
    // What the journal keeps is read again as the plan that was run.
    const auto again = parse_plan(cut->text);
    REQUIRE(again);
    CHECK(again->plan.steps.size() == cut->plan.steps.size());
    CHECK(again->plan.limits.rows.size() == plan->plan.limits.rows.size());
    CHECK(cut->text.text.find("Left out") != std::string::npos);
}

TEST_CASE("a plan within what the maker declares stays as it is") {
    const auto gauge = load_gauge("bucket-200-twin", templates);  // 500 mm/h
    const auto plan = load_plan("extended-500", templates);
    REQUIRE(gauge);
    REQUIRE(plan);
    CHECK(check_within_declared(*gauge, *plan));
    const auto same = cut_to_declared(*gauge, *plan);
    REQUIRE(same);
    CHECK(same->text.text == plan->text.text);
}

TEST_CASE("a plan of which no step is left is refused") {
    auto gauge = load_gauge("bucket-150", templates);
    const auto plan = load_plan("three-point-check", templates);
    REQUIRE(gauge);
    REQUIRE(plan);
    gauge->gauge.max_intensity_mm_h = 10;
    CHECK_FALSE(check_within_declared(*gauge, *plan));
    CHECK_FALSE(cut_to_declared(*gauge, *plan));
}
