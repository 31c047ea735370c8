#include "tests/bench/descriptions/texts.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a plan is read with steps, limits and decision rule") {
    const auto read = parse_plan({"plan.toml", plan_text});
    REQUIRE(read);
    const calib::Plan& plan = read->plan;
    CHECK(plan.name == "Two points");
    CHECK(plan.target_U_percent == 1.0);
    CHECK(plan.coverage == 0.95);
    REQUIRE(plan.steps.size() == 2);
    CHECK(plan.steps[0].intensity_mm_h == 10);
    CHECK(plan.steps[1].min_tips == 40);
    CHECK(plan.steps[1].time_limit_s == 1800);
    CHECK(plan.limits.name == "ours");
    REQUIRE(plan.limits.rows.size() == 2);
    CHECK(plan.limits.rows[1].from_mm_h == 50);
    CHECK(plan.limits.rows[1].low_percent == -5);
    CHECK(plan.rule == calib::DecisionRule::guard_band);
    CHECK(read->text.text == plan_text);
}

TEST_CASE("repeats are of the plan or of one step, and enough for their rule") {
    const std::string of_plan =
        changed(plan_text, "target_U_percent = 1.0",
                "target_U_percent = 1.0\nrepeats = 5\nrepeat_rule = \"discard-extremes-mean\"");
    const auto read =
        parse_plan({"plan.toml", changed(of_plan, "min_tips = 12", "min_tips = 12\nrepeats = 3")});
    REQUIRE(read);
    CHECK(read->plan.repeat_rule == calib::RepeatRule::discard_extremes_mean);
    CHECK(read->plan.steps[0].repeats == 3);
    CHECK(read->plan.steps[1].repeats == 5);
    CHECK(parse_plan({"plan.toml", plan_text})->plan.steps[0].repeats == 1);
    CHECK(plan_line(changed(of_plan, "min_tips = 12", "min_tips = 12\nrepeats = 2")) ==
          "plan.toml:8:11: a step is run 2 times, but two runs of it are to be discarded; set repeats to 3 "
          "or more "
          "(WMO-No. 8 asks for 5), or repeat_rule = \"mean\"");
    CHECK(plan_line(changed(of_plan, "repeats = 5", "repeats = 21")) ==
          "plan.toml:3:11: repeats is 21, must be 1 to 20");
    CHECK(plan_line(changed(of_plan, "discard-extremes-mean", "median")).find("repeat_rule") !=
          std::string::npos);
}

TEST_CASE("every decision rule has its words") {
    const auto rule = [](const std::string& words) {
        return parse_plan({"plan.toml", changed(plan_text, "\"guard band\"", words)})->plan;
    };
    CHECK(rule("\"simple acceptance\"").rule == calib::DecisionRule::simple_acceptance);
    const calib::Plan plan = rule("\"conformance probability\"\nrequired_probability = 0.9");
    CHECK(plan.rule == calib::DecisionRule::conformance_probability);
    CHECK(plan.required_probability == 0.9);
}

TEST_CASE("a guard band may be a multiple of U, and limits may say what is known of such gauges") {
    const auto read = parse_plan(
        {"plan.toml",
         changed(changed(plan_text, "\"guard band\"", "\"guard band\"\nguard_band_times_U = 0.83"),
                 "[limits]", "[limits]\npopulation_sd_percent = 2\npopulation_source = \"invented\"")});
    REQUIRE(read);
    CHECK(read->plan.guard_band_times_U == 0.83);
    REQUIRE(read->plan.limits.population);
    CHECK(read->plan.limits.population->sd_percent == 2);
    CHECK(read->plan.limits.population->mean_percent == 0);
    CHECK_FALSE(parse_plan({"plan.toml", plan_text})->plan.limits.population);
    CHECK(plan_line(changed(plan_text, "[limits]", "[limits]\npopulation_sd_percent = 2"))
              .find("population_source") != std::string::npos);
    CHECK(plan_line(changed(plan_text, "\"guard band\"", "\"simple acceptance\"\nguard_band_times_U = 1"))
              .find("the rule does not use it") != std::string::npos);
}

TEST_CASE("steps that cannot be run are refused") {
    CHECK(plan_line(changed(plan_text, "intensity_mm_h = 100", "intensity_mm_h = 10")) ==
          "plan.toml:8:18: step 2 repeats the 10 mm/h of step 1; remove one, change its intensity, or say "
          "again = true to see whether the gauge is still the same");
    CHECK(plan_line(changed(plan_text, "min_tips = 12", "min_tips = 15")) ==
          "plan.toml:5:12: min_tips is 15, must be even: a bucket has two compartments; take 16");
    CHECK(plan_line(changed(plan_text, "min_tips = 12", "min_tips = 0")) ==
          "plan.toml:5:12: step.min_tips is 0, must be 2 to 100000");
    CHECK(plan_line(changed(plan_text, "intensity_mm_h = 10\n", "intensity_mm_h = -10\n")) ==
          "plan.toml:4:18: step.intensity_mm_h is -10, must be 0.1 to 3000 mm/h");
    CHECK(plan_line(changed(plan_text, "intensity_mm_h = 10\n", "intensity_mm_h = nan\n")) ==
          "plan.toml:4:18: step.intensity_mm_h is nan, must be 0.1 to 3000 mm/h");
    CHECK(plan_line(changed(plan_text, "time_limit_s = 3600\n", "")) ==
          "plan.toml:3:1: step.time_limit_s is not given; add it to [[step]]");
    CHECK(
        plan_line("title = \"T\"\ntarget_U_percent = 1\n") ==
        "plan.toml:1:1: the plan has no step; add a [[step]] with intensity_mm_h, min_tips and time_limit_s");
    CHECK(plan_line("title = \"T\"\ntarget_U_percent = 1\nstep = 3\n") ==
          "plan.toml:3:8: step is 3, must be a list of tables; write each one under its own [[step]]");
    CHECK(
        plan_line("title = \"T\"\ntarget_U_percent = 1\nstep = []\n") ==
        "plan.toml:3:8: the plan has no step; add a [[step]] with intensity_mm_h, min_tips and time_limit_s");
    CHECK(plan_line(changed(plan_text, "[limits]", "[settle]\ntips = 3\n[limits]")) ==
          "plan.toml:12:8: tips is 3, must be even: a bucket has two compartments; take 4");
    CHECK(plan_line(changed(plan_text, "target_U_percent = 1.0", "target_U_percent = 0")) ==
          "plan.toml:2:20: target_U_percent is 0, must be 0.05 to 20 %");
    std::string many = "title = \"T\"\ntarget_U_percent = 1\n";
    for (int i = 1; i <= 61; ++i)
        many += "[[step]]\nintensity_mm_h = " + std::to_string(i) + "\nmin_tips = 2\ntime_limit_s = 99\n";
    CHECK(plan_line(many) == "plan.toml:3:1: the plan has 61 steps, at most 60 are run; split it");
}

TEST_CASE("limits that cannot be met or contradict each other are refused") {
    CHECK(plan_line(changed(plan_text, "low_percent = -3\nhigh_percent = 3",
                            "low_percent = 3\nhigh_percent = -3")) ==
          "plan.toml:17:15: the limits are upside down: low_percent 3 is not below high_percent -3; swap "
          "them; an "
          "error of -5 % is low_percent = -5");
    CHECK(plan_line(changed(plan_text, "from_mm_h = 0\nto_mm_h = 50", "from_mm_h = 50\nto_mm_h = 0")) ==
          "plan.toml:16:11: to_mm_h 0 is not above from_mm_h 50; swap them");
    CHECK(
        plan_line(changed(plan_text, "from_mm_h = 50", "from_mm_h = 40")) ==
        "plan.toml:20:13: the row from 40 mm/h overlaps the one from 0 mm/h; let each row end where the next "
        "begins");
    CHECK(plan_line(changed(plan_text, "source = \"agreed with the customer\"\n", "")) ==
          "plan.toml:11:1: limits.source is not given; add it to [limits]");
    CHECK(
        plan_line(plan_text.substr(0, plan_text.find("[limits]")) + "[decision]\nrule = \"guard band\"\n") ==
        "plan.toml:11:1: a decision rule is given, but no limits; add limits, or remove [decision]");
    CHECK(
        plan_line(changed(plan_text, "\"guard band\"", "\"guarded\"")) ==
        "plan.toml:25:8: decision.rule is \"guarded\", must be one of \"simple acceptance\", \"guard band\", "
        "\"conformance probability\"");
    CHECK(plan_line(changed(plan_text, "\"guard band\"", "\"conformance probability\"")) ==
          "plan.toml:24:1: decision.required_probability is not given; add it to [decision]");
    CHECK(plan_line(plan_text + "required_probability = 0.9\n") ==
          "plan.toml:26:24: required_probability is given, but the rule does not use it; remove it, or set "
          "rule = "
          "\"conformance probability\"");
}

TEST_CASE("a plan needs no limits") {
    const auto read = parse_plan({"plan.toml", plan_text.substr(0, plan_text.find("[limits]"))});
    REQUIRE(read);
    CHECK(read->plan.limits.rows.empty());
}
