// What an evaluation says about itself: Monte Carlo, risks of its verdicts, the table of last resort, and
// points it must refuse.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "calib/decision/decision.hpp"
#include "calib/decision/evaluation.hpp"
#include "calib/statistics/monte_carlo.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

std::vector<StepObservation> observations(const test::KnownGauge& known,
                                          const std::vector<double>& intensities_mm_h) {
    std::vector<StepObservation> seen;
    for (const auto& step : known.steps(intensities_mm_h)) seen.push_back(step.observation);
    return seen;
}

Plan plan_with_limits(double percent) {
    Plan plan;
    plan.limits.name = "ours";
    plan.limits.rows = {{0, 2000, -percent, percent}};
    return plan;
}

// Volumes no candidate follows: up, flat, down, up.
std::vector<StepResult> wild_steps(const test::KnownGauge& known) {
    const std::vector<double> intensities{20, 50, 100, 150, 200, 250};
    const std::vector<double> factors{1, 1.05, 1.05, 0.99, 1.1, 1.02};
    std::vector<StepResult> steps;
    for (std::size_t i = 0; i < intensities.size(); ++i) {
        StepObservation seen = known.step(static_cast<int>(i) + 1, intensities[i]).observation;
        seen.balance_difference_g *= factors[i];
        seen.duration_s = *seen.duration_s * factors[i];
        const auto step = evaluate_step(seen, known.gauge, known.bench);
        REQUIRE(step);
        steps.push_back(*step);
    }
    return steps;
}

}  // namespace

TEST_CASE("every step's budget is checked by Monte Carlo, the same each time") {
    const test::KnownGauge known;
    auto evaluation = evaluate(observations(known, {20, 90, 200}), known.gauge, known.bench, Plan{});
    REQUIRE(evaluation);
    const std::size_t findings = evaluation->findings.size();
    REQUIRE(check_by_monte_carlo(*evaluation, Plan{}));
    REQUIRE(evaluation->monte_carlo.size() == 3);
    for (std::size_t i = 0; i < 3; ++i) {
        const MonteCarloCheck& check = evaluation->monte_carlo[i];
        const StepResult& step = evaluation->steps[i];
        CHECK(check.step == step.observation.step);
        CHECK(check.stable);
        CHECK(check.trials >= 10000);
        // JCGM 101:2008 clause 8.1: |y - U - y_low| and |y + U - y_high| within delta.
        const GumValidation& validation = check.error_percent.validation;
        CHECK(validation.valid);
        CHECK(validation.d_low == Approx(std::abs(step.error_percent.value - step.error_expanded.U -
                                                  check.error_percent.symmetric.low)));
        CHECK(validation.tolerance == Approx(numerical_tolerance(step.error_expanded.U, 2)));
        CHECK(check.error_percent.u == Approx(step.error_percent.u).epsilon(0.03));
        CHECK(check.error_percent.shortest.high - check.error_percent.shortest.low <=
              check.error_percent.symmetric.high - check.error_percent.symmetric.low);
        CHECK(check.volume_per_tip_mL.validation.valid);
    }
    CHECK(evaluation->findings.size() == findings);
    const auto before = evaluation->monte_carlo;
    REQUIRE(check_by_monte_carlo(*evaluation, Plan{}));
    CHECK(evaluation->monte_carlo[1].error_percent.symmetric.low == before[1].error_percent.symmetric.low);
    CHECK(evaluation->monte_carlo[1].trials == before[1].trials);
}

TEST_CASE("where Monte Carlo does not confirm the two digits of U, its interval is stated and judged") {
    // One rectangular component far above the rest: k = 1.65, not 1.96 (JCGM 101:2008 clause 9.2.3).
    test::KnownGauge known;
    known.bench.balance.linearity_half_width_g = 12;
    Plan plan = plan_with_limits(3);
    plan.rule = DecisionRule::guard_band;
    auto evaluation = evaluate(observations(known, {50}), known.gauge, known.bench, plan);
    REQUIRE(evaluation);
    const double by_gum = evaluation->steps[0].error_expanded.U;
    // A limit that the narrower interval meets and the wider one does not.
    const double e = evaluation->steps[0].error_percent.value;
    plan.limits.rows[0].low_percent = e - 0.92 * by_gum;
    plan.limits.rows[0].high_percent = e + 10 * by_gum;
    evaluation = evaluate(observations(known, {50}), known.gauge, known.bench, plan);
    REQUIRE(evaluation);
    CHECK(evaluation->conformity.overall == Verdict::undecided);
    REQUIRE(check_by_monte_carlo(*evaluation, plan));
    const StepResult& step = evaluation->steps[0];
    const Interval& interval = evaluation->monte_carlo[0].error_percent.symmetric;
    CHECK(step.error_expanded.U == std::max(interval.high - e, e - interval.low));
    CHECK(step.error_expanded.U < 0.9 * by_gum);
    CHECK(step.error_expanded.k > 1.64);
    CHECK(step.error_expanded.k < 1.72);
    CHECK(evaluation->conformity.overall == Verdict::pass);
    CHECK_FALSE(evaluation->monte_carlo[0].error_percent.validation.valid);
    REQUIRE_FALSE(evaluation->findings.empty());
    CHECK(evaluation->findings.back().id == FindingId::monte_carlo_narrower);
    CHECK(evaluation->findings.back().step == 1);
}

TEST_CASE("an interval of Monte Carlo that is wider than the budget's is called so") {
    // Two parts of one size, each known from four values: Welch and Satterthwaite's 6 degrees of freedom give
    // less than the sum of two of Student's t of 3 (Behrens and Fisher).
    const test::KnownGauge known;
    auto evaluation = evaluate(observations(known, {50}), known.gauge, known.bench, Plan{});
    REQUIRE(evaluation);
    StepResult& step = evaluation->steps[0];
    step.budget.clear();
    for (const char* id : {"first", "second"})
        step.budget.push_back({id, id, "1", 1, 0.01, Distribution::student, 3, 1, 0, 0, 0, ""});
    const double ratio = 1 + step.error_percent.value / 100;
    step.error_percent.u = 100 * ratio * 0.01 * std::sqrt(2.0);
    step.error_percent.dof = 6;
    step.error_expanded = expanded(step.error_percent);
    const double by_gum = step.error_expanded.U;
    REQUIRE(check_by_monte_carlo(*evaluation, Plan{}));
    const Interval& interval = evaluation->monte_carlo[0].error_percent.symmetric;
    CHECK(interval.high - interval.low > 2.2 * by_gum);
    CHECK(interval.high - interval.low < 3.8 * by_gum);
    REQUIRE_FALSE(evaluation->findings.empty());
    CHECK(evaluation->findings.back().id == FindingId::monte_carlo_wider);
}

TEST_CASE("global risks come with what is known of such gauges, and only then") {
    const test::KnownGauge known;
    Plan plan = plan_with_limits(3);
    const auto seen = observations(known, {20, 90});
    auto without = evaluate(seen, known.gauge, known.bench, plan);
    REQUIRE(without);
    CHECK_FALSE(without->conformity.steps[0].consumer_risk);

    plan.limits.population = GaugePopulation{0.5, 2, "invented"};
    for (const DecisionRule rule : {DecisionRule::simple_acceptance, DecisionRule::guard_band}) {
        plan.rule = rule;
        const auto with = evaluate(seen, known.gauge, known.bench, plan);
        REQUIRE(with);
        const StepConformity& row = with->conformity.steps[0];
        const StepResult& step = with->steps[0];
        const double w = rule == DecisionRule::guard_band ? step.error_expanded.U : 0;
        const auto risk = global_risk(normal_prior(0.5, 2), step.error_percent.u, {-3, 3}, {-3 + w, 3 - w},
                                      step.error_percent.dof);
        REQUIRE(risk);
        REQUIRE(row.consumer_risk);
        CHECK(*row.consumer_risk == Approx(risk->consumer));
        CHECK(*row.producer_risk == Approx(risk->producer));
    }
}

// With 6 degrees of freedom the normal distribution says 3.8 % wrong, Student's t 6.3 % (tables of both: t of
// 6 at 0.95 is 1.943): no pass at 95 %.
TEST_CASE("probabilities know their degrees of freedom") {
    const double away = 1.774;
    const Uncertain few{5 - away * 0.5, 0.5, 6};
    const auto row = judge_error(few, 1.2, -5, 5, DecisionRule::conformance_probability, 0.95);
    CHECK(1 - row.conformance_probability == Approx(0.063).margin(0.0005));
    CHECK(row.verdict == Verdict::undecided);
    const auto many =
        judge_error({few.value, few.u, infinite_dof}, 1, -5, 5, DecisionRule::conformance_probability, 0.95);
    CHECK(many.wrong_probability == Approx(0.038).margin(0.0005));
    CHECK(many.verdict == Verdict::pass);
    CHECK(judge_error({5 - 1.944 * 0.5, 0.5, 6}, 1.2, -5, 5, DecisionRule::conformance_probability, 0.95)
              .verdict == Verdict::pass);
}

TEST_CASE("the guard band may be a multiple of U") {
    const Uncertain error{4.1, 0.5, infinite_dof};
    // U = 1: 4.1 + 0.83 <= 5, 4.1 + 1 > 5.
    CHECK(judge_error(error, 1, -5, 5, DecisionRule::guard_band, 0.95).verdict == Verdict::undecided);
    CHECK(judge_error(error, 1, -5, 5, DecisionRule::guard_band, 0.95, 0.83).verdict == Verdict::pass);
    Conformity conformity;
    conformity.rule = DecisionRule::guard_band;
    // ILAC-G8:09/2019 table 1: below 2.5 % for w = U.
    CHECK(risk_bound(conformity, 0.95) == Approx(0.025));
    conformity.guard_band_times_U = 0.83;
    // ISO 14253-1: below 5 % (1.96 x 0.83 = 1.63).
    CHECK(risk_bound(conformity, 0.95) == Approx(0.052).margin(0.001));
    conformity.rule = DecisionRule::simple_acceptance;
    CHECK(risk_bound(conformity, 0.95) == 0.5);
}

TEST_CASE("points no formula follows are interpolated without overshooting") {
    const test::KnownGauge known;
    const auto steps = wild_steps(known);
    const auto model = fit_rate_model(steps);
    REQUIRE(model);
    REQUIRE(model->chosen == RateForm::table);
    for (const RateCandidate& candidate : model->candidates) CHECK_FALSE(candidate.passes);
    CHECK(model->reason.find("every candidate is clearly rejected") != std::string::npos);
    for (std::size_t i = 0; i + 1 < model->points.size(); ++i) {
        const RatePoint& a = model->points[i];
        const RatePoint& b = model->points[i + 1];
        CHECK(model->volume_at(a.flow_mL_s).value == Approx(a.volume_mL.value));
        const double low = std::min(a.volume_mL.value, b.volume_mL.value);
        const double high = std::max(a.volume_mL.value, b.volume_mL.value);
        for (int k = 1; k < 10; ++k) {
            const double flow = a.flow_mL_s + k * (b.flow_mL_s - a.flow_mL_s) / 10;
            const Uncertain v = model->volume_at(flow);
            CHECK(v.value >= low - 1e-9);
            CHECK(v.value <= high + 1e-9);
            CHECK(v.u >= std::max(a.volume_mL.u, b.volume_mL.u));
            const double h = 1e-6;
            const double slope =
                (model->volume_at(flow + h).value - model->volume_at(flow - h).value) / (2 * h);
            CHECK(model->slope_at(flow) == Approx(slope).margin(1e-4));
        }
    }
    // Inverse: the interval of a flow leads back to its volume.
    const double flow = (model->points[1].flow_mL_s + model->points[2].flow_mL_s) / 2;
    const double volume = model->volume_at(flow).value;
    const auto depth = depth_mm(*model, steps, known.gauge, volume / flow);
    REQUIRE(depth);
    CHECK(depth->value == Approx(10 * volume / known.gauge.catch_area_cm2().value).epsilon(1e-6));
    CHECK(depth->u > 0);
}

TEST_CASE("points that cannot be evaluated are refused, each by its step") {
    const test::KnownGauge known;
    auto seen = observations(known, {20, 90, 200});
    const auto refused = [&](const std::vector<StepObservation>& points, const BenchMetrology& bench) {
        const auto evaluation = evaluate(points, known.gauge, bench, Plan{});
        REQUIRE_FALSE(evaluation);
        return evaluation.fault();
    };
    auto spoilt = seen;
    spoilt[1].balance_difference_g = std::numeric_limits<double>::quiet_NaN();
    CHECK(refused(spoilt, known.bench).where == "step 2");
    spoilt = seen;
    spoilt[2].duration_s = std::numeric_limits<double>::quiet_NaN();
    CHECK(refused(spoilt, known.bench).where == "step 3");
    spoilt = seen;
    spoilt[0].scatter.sd_percent = std::numeric_limits<double>::infinity();
    const Fault not_finite = refused(spoilt, known.bench);
    CHECK(not_finite.code == FaultCode::not_finite);
    CHECK(not_finite.where == "step 1");
    spoilt = seen;
    spoilt[1].balance_difference_g *= 10;
    const Fault wild = refused(spoilt, known.bench);
    CHECK(wild.code == FaultCode::inconsistent);
    CHECK(wild.where == "step 2");
    CHECK(refused({}, known.bench).code == FaultCode::too_few_points);
}
