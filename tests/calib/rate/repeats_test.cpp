// Runs of a step combined: the WMO annex' rule, its uncertainty, the record of what was discarded.
#include "calib/rate/repeats.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/decision/evaluation.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

// Five runs of one step whose errors differ as asked, in per cent of 1 + e.
std::vector<StepResult> runs_off_by(const test::KnownGauge& known, const std::vector<double>& percent) {
    std::vector<StepResult> runs;
    for (const double off : percent) {
        StepObservation seen = known.step(1, 50).observation;
        seen.repeat = static_cast<int>(runs.size()) + 1;
        seen.balance_difference_g /= 1 + off / 100;
        const auto run = evaluate_step(seen, known.gauge, known.bench);
        REQUIRE(run);
        runs.push_back(*run);
    }
    return runs;
}

const BudgetComponent* found_component(const StepResult& step, const std::string& id) {
    for (const auto& each : step.budget)
        if (each.id == id) return &each;
    return nullptr;
}

Plan plan_of_repeats(int repeats, RepeatRule rule) {
    Plan plan;
    plan.steps = {{50, 20, 3600, repeats}};
    plan.repeat_rule = rule;
    return plan;
}

}  // namespace

TEST_CASE("the variance of a mean without extremes is that of normal order statistics") {
    // Covariances of normal order statistics: Sarhan and Greenberg, Annals of Mathematical Statistics 27
    // (1956) 427, table I, n = 5: var 0.311519, 0.286834; cov 0.208435, 0.149943 (from memory).
    constexpr double printed_digits = 1e-6;
    const double five = (2 * 0.311519 + 0.286834 + 2 * (2 * 0.208435 + 0.149943)) / 9;
    CHECK(variance_share(RepeatRule::discard_extremes_mean, 5) == Approx(five).margin(printed_digits));
    // n = 3: the variance of the median of three, 1 - sqrt(3)/pi (David and Nagaraja 2003, from memory).
    CHECK(variance_share(RepeatRule::discard_extremes_mean, 3) ==
          Approx(1 - std::sqrt(3.0) / 3.14159265358979).margin(1e-6));
    CHECK(variance_share(RepeatRule::mean, 5) == Approx(0.2));
    // Between the plain mean of n and of n - 2, for every number a plan may ask for.
    for (int n = 3; n <= 20; ++n) {
        CHECK(variance_share(RepeatRule::discard_extremes_mean, n) > 1.0 / n);
        CHECK(variance_share(RepeatRule::discard_extremes_mean, n) < 1.0 / (n - 2));
    }
}

TEST_CASE("what one run of a step has no part of counts by the share of the runs that have it") {
    const test::KnownGauge known;
    std::vector<StepResult> runs = runs_off_by(known, {0.02, 0.05, -0.03});
    const auto whole = combine_repeats(runs, RepeatRule::mean, 0.95);
    REQUIRE(whole);
    REQUIRE(found_component(*whole, "balance_drift") != nullptr);
    std::erase_if(runs[1].budget, [](const BudgetComponent& one) { return one.id == "balance_drift"; });
    const auto parted = combine_repeats(runs, RepeatRule::mean, 0.95);
    REQUIRE(parted);
    REQUIRE(found_component(*parted, "balance_drift") != nullptr);
    CHECK(found_component(*parted, "balance_drift")->u ==
          Approx(found_component(*whole, "balance_drift")->u * 2 / 3));
}

TEST_CASE("largest and smallest error are discarded, the other three averaged") {
    const test::KnownGauge known;
    const auto runs = runs_off_by(known, {0.02, 0.05, -0.03, 0.01, -0.01});
    const auto step = combine_repeats(runs, RepeatRule::discard_extremes_mean, 0.95);
    REQUIRE(step);
    const double mean =
        (runs[0].error_percent.value + runs[3].error_percent.value + runs[4].error_percent.value) / 3;
    CHECK(step->error_percent.value == Approx(mean));
    CHECK(step->reference_intensity_mm_h->value ==
          Approx((runs[0].reference_intensity_mm_h->value + runs[3].reference_intensity_mm_h->value +
                  runs[4].reference_intensity_mm_h->value) /
                 3));
    REQUIRE(step->repeats.size() == 5);
    CHECK(repeats_kept(*step) == 3);
    CHECK_FALSE(step->repeats[1].kept);
    CHECK_FALSE(step->repeats[2].kept);
    CHECK(step->observation.repeat == 0);
    CHECK(step->observation.tips == 180);
    // e = A h_n / v - 1 and T = v / Q still hold.
    CHECK(step->error_percent.value ==
          Approx(100 * (known.gauge.nominal_tip_mL() / step->volume_per_tip_mL.value - 1)));
    CHECK(*step->mean_interval_s == Approx(60 * step->volume_per_tip_mL.value / step->flow_mL_min->value));
    CHECK(*step->indicated_intensity_mm_h == Approx(3600 * 0.2 / *step->mean_interval_s));
}

TEST_CASE("what acts on all runs does not average out, what is new in each does") {
    const test::KnownGauge known;
    const auto runs = runs_off_by(known, {0, 0, 0, 0, 0});
    const auto step = combine_repeats(runs, RepeatRule::discard_extremes_mean, 0.95);
    REQUIRE(step);
    const double c = variance_share(RepeatRule::discard_extremes_mean, 5);
    for (const auto& each : step->budget) {
        const BudgetComponent* one = found_component(runs[0], each.id);
        REQUIRE(one != nullptr);  // equal runs: no scatter between them
        INFO(each.id);
        const bool lasts = !one->cause.empty();
        CHECK(each.u * std::abs(each.relative_to_e()) ==
              Approx(one->u * std::abs(one->relative_to_e()) * (lasts ? 1 : std::sqrt(c))).epsilon(1e-9));
        CHECK(each.cause == one->cause);
    }
    CHECK(found_component(*step, "tip_scatter")->dof ==
          Approx(5 * found_component(runs[0], "tip_scatter")->dof));
    CHECK(found_component(*step, "balance_repeatability")->dof ==
          found_component(runs[0], "balance_repeatability")->dof);
}

TEST_CASE("scatter between runs beyond their own is a found_component and a finding") {
    const test::KnownGauge known;
    const auto runs = runs_off_by(known, {0.9, -0.8, 0.1, 0.7, -0.9});
    const auto step = combine_repeats(runs, RepeatRule::discard_extremes_mean, 0.95);
    REQUIRE(step);
    const BudgetComponent* between = found_component(*step, "run_scatter");
    REQUIRE(between != nullptr);
    CHECK(between->dof == Approx(4).epsilon(0.02));
    // Close to sqrt(c) times the standard deviation of all five, 0.83 %: not that of the three kept, 0.78
    // %/sqrt 3.
    CHECK(between->u ==
          Approx(std::sqrt(variance_share(RepeatRule::discard_extremes_mean, 5)) * 0.83).epsilon(0.05));
    CHECK(repeats_disagree(*step));
    CHECK_FALSE(repeats_disagree(*combine_repeats(runs_off_by(known, {0.01, -0.02, 0.03, 0, -0.01}),
                                                  RepeatRule::discard_extremes_mean, 0.95)));
}

TEST_CASE("the interval of a mean without extremes covers the truth") {
    // Each run: a shared error, one of its own, and, in half of the cases, one between runs that no budget
    // knows.
    std::mt19937_64 generator(20261125);
    std::normal_distribution<double> normal;
    const test::KnownGauge known;
    StepResult pattern = known.step(1, 50);
    const double truth = pattern.error_percent.value;
    double own = 0;
    double shared = 0;
    for (const auto& each : pattern.budget) {
        const double part = (100 + truth) * each.relative_to_e() * each.u;
        (each.cause.empty() ? own : shared) += part * part;
    }
    constexpr int trials = 3000;
    for (const double between : {0.0, 0.1, 0.3, 1.0}) {
        int covered = 0;
        for (int trial = 0; trial < trials; ++trial) {
            const double common = std::sqrt(shared) * normal(generator);
            std::vector<StepResult> runs(5, pattern);
            for (auto& run : runs)
                run.error_percent.value =
                    truth + common + std::hypot(std::sqrt(own), between) * normal(generator);
            const auto step = combine_repeats(runs, RepeatRule::discard_extremes_mean, 0.95);
            REQUIRE(step);
            covered += std::abs(step->error_percent.value - truth) <= step->error_expanded.U ? 1 : 0;
        }
        INFO("between " << between << " %, covered " << covered << " of " << trials);
        // 3 standard deviations of the count below 95 %; above, a little more is the price of never
        // deducting.
        CHECK(covered >= trials * 0.935);
        CHECK(covered <= trials * 0.985);
    }
}

TEST_CASE("an evaluation takes runs in any order and gives back what it was made of") {
    const test::KnownGauge known;
    auto runs = runs_off_by(known, {0.02, 0.05, -0.03, 0.01, -0.01});
    std::vector<StepObservation> observations;
    for (const auto& run : runs) observations.push_back(run.observation);
    std::swap(observations[0], observations[3]);
    const Plan plan = plan_of_repeats(5, RepeatRule::discard_extremes_mean);
    const auto evaluation = evaluate(observations, known.gauge, known.bench, plan);
    REQUIRE(evaluation);
    REQUIRE(evaluation->steps.size() == 1);
    CHECK(evaluation->steps[0].repeats[0].observation.repeat == 1);
    const auto again = evaluate(observations_of(*evaluation), known.gauge, known.bench, plan);
    REQUIRE(again);
    CHECK(again->steps[0].error_percent.value == evaluation->steps[0].error_percent.value);
    CHECK(again->steps[0].error_expanded.U == evaluation->steps[0].error_expanded.U);

    // A run cut off before its third: nothing is discarded of two.
    observations.resize(2);
    const auto cut = evaluate(observations, known.gauge, known.bench, plan);
    REQUIRE(cut);
    CHECK(repeats_kept(cut->steps[0]) == 2);
    observations[1].repeat = observations[0].repeat;
    const auto twice = evaluate(observations, known.gauge, known.bench, plan);
    REQUIRE_FALSE(twice);
    CHECK(twice.fault().code == FaultCode::duplicate);
}
