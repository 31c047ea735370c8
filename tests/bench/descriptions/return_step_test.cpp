#include "bench/descriptions/return_step.hpp"

#include <catch2/catch.hpp>

#include "tests/bench/descriptions/texts.hpp"

using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a gauge of one compartment returns to the first rate, a bucket does not") {
    const auto plan = load_plan("three-point-check", templates);
    REQUIRE(plan);
    REQUIRE(plan->plan.steps.size() == 3);
    for (const char* kind : {"magnet-spoon-160", "spoon-100"}) {
        const auto gauge = load_gauge(kind, templates);
        REQUIRE(gauge);
        const auto returned = with_return(*gauge, *plan);
        REQUIRE(returned);
        REQUIRE(returned->plan.steps.size() == 4);
        CHECK(returned->plan.steps[3].intensity_mm_h == plan->plan.steps[0].intensity_mm_h);
        CHECK(returned->plan.steps[3].min_tips == 8);
        CHECK(returned->plan.limits.rows.size() == plan->plan.limits.rows.size());
        // A journal holds the text: read again it is the plan that was run, and nobody returns twice.
        const auto read = parse_plan(returned->text);
        REQUIRE(read);
        CHECK(read->plan.steps.size() == 4);
        const auto twice = with_return(*gauge, *read);
        REQUIRE(twice);
        CHECK(twice->text.text == returned->text.text);
    }
    for (const char* kind : {"bucket-150", "bucket-200-twin", "siphon-200"}) {
        const auto gauge = load_gauge(kind, templates);
        REQUIRE(gauge);
        const auto same = with_return(*gauge, *plan);
        REQUIRE(same);
        CHECK(same->text.text == plan->text.text);
    }
}

TEST_CASE("a rate is run again on purpose or not at all") {
    const auto again = [](const std::string& more) {
        return changed(
            plan_text, "[limits]",
            "[[step]]\nintensity_mm_h = 10\nmin_tips = 8\n" + more + "time_limit_s = 900\n[limits]");
    };
    const auto meant = parse_plan({"plan.toml", again("again = true\n")});
    REQUIRE(meant);
    CHECK(meant->plan.steps.size() == 3);
    CHECK(plan_line(changed(plan_text, "min_tips = 12", "min_tips = 12\nagain = true")) ==
          "plan.toml:6:9: step 1 is to run the 10 mm/h again, but no step before it ran them; take the "
          "intensity of an earlier step, or remove again");
    CHECK(plan_line(changed(plan_text, "[limits]", "[return]\ntips = 7\ntime_limit_s = 9\n[limits]")) ==
          "plan.toml:12:8: tips is 7, must be even: a bucket has two compartments; take 8");
    const std::string discard = "repeat_rule = \"discard-extremes-mean\"\nrepeats = 5\n[[step]]";
    const std::string five = plan_text.substr(0, plan_text.find("[[step]]")) + discard +
                             plan_text.substr(plan_text.find("[[step]]") + 8);
    CHECK(plan_line(changed(five, "[limits]", "[return]\ntips = 8\ntime_limit_s = 9\n[limits]")) ==
          "plan.toml:13:1: two runs of each step are to be discarded, but the return is one run; remove "
          "[return]: the repeats of each step show a change");
}
