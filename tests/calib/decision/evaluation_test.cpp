#include "calib/decision/evaluation.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "calib/decision/statement.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

Gauge bucket_200() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    gauge.contacts = {{}};
    gauge.max_intensity_mm_h = 500;
    return gauge;
}

// A bench that adds nothing to the numbers and little to the uncertainty.
BenchMetrology plain_bench() {
    BenchMetrology bench;
    bench.evaporation_g_h = {0, 0, infinite_dof};
    return bench;
}

// The balance difference that a true volume per tip shows: design backwards from the answer.
StepObservation observation_of(int step, double volume_per_tip_mL, double flow_mL_s, int tips,
                               double scatter_percent = 0.5) {
    StepObservation seen;
    seen.step = step;
    seen.tips = tips;
    seen.duration_s = tips * volume_per_tip_mL / flow_mL_s;
    const double rho_w = water_density_kg_m3(20);
    const double rho_a = air_density_kg_m3(20, 1013.25, 50);
    const double mass_g = tips * volume_per_tip_mL * rho_w / 1000;
    seen.balance_difference_g = mass_g * (1 - rho_a / rho_w) / (1 - 1.2 / 8000);
    seen.set_intensity_mm_h = intensity_mm_h(60 * flow_mL_s, 314.159265);
    seen.contact_counts = {tips};
    seen.scatter = {scatter_percent, tips - 2.0, "intervals"};
    return seen;
}

}  // namespace

// Volumes that virtual spoons and a siphon showed when a part of them shifted by 10 % between their first and
// second step (bench/virtual_bench, seeds 4, 12 and 33 of the honesty campaign, three-point check).
TEST_CASE(
    "three rates that bend back: a gauge without a second compartment has changed between two of them") {
    const auto steps_of = [](const std::vector<double>& volumes_mL, double scatter_percent) {
        std::vector<StepObservation> out;
        const double flows[] = {0.175, 0.61, 1.31};
        for (std::size_t k = 0; k < volumes_mL.size(); ++k)
            out.push_back(observation_of(static_cast<int>(k) + 1, volumes_mL[k], flows[k],
                                         20 + 10 * static_cast<int>(k), scatter_percent));
        return out;
    };
    Plan plan;
    Gauge spoon = bucket_200();
    spoon.compartments = 1;
    Gauge siphon = bucket_200();
    siphon.inlet = Inlet::siphon;
    const auto stated = [&](const Gauge& gauge, const std::vector<double>& volumes, double scatter) {
        const auto evaluation = evaluate(steps_of(volumes, scatter), gauge, plain_bench(), plan);
        REQUIRE(evaluation);
        const Statement statement = statement_of(*evaluation, gauge, {});
        int out = 0;
        for (const StepStatement& step : statement.steps) out += step.result != Claim::not_stated;
        CHECK((out == 3) == evaluation->correction.has_value());
        return out;
    };
    CHECK(stated(spoon, {6.21, 6.99, 7.27}, 1) == 1);
    CHECK(stated(spoon, {6.18, 7.11, 7.70}, 1) == 1);
    CHECK(stated(siphon, {6.4166, 6.6783, 6.6329}, 1) == 1);
    // The middle rate 1 % above the line of the others, and 0.5 %: the last one would have to be moved by 1.6
    // times as much to lie on a line with the others, and less than 1 % does not matter.
    CHECK(stated(spoon, {6.20, 6.417, 6.60}, 0.3) == 1);
    CHECK(stated(spoon, {6.20, 6.385, 6.60}, 0.3) == 3);
    // Healthy: a straight line, a spoon held down by the inflow, a siphon as flat as they are.
    CHECK(stated(spoon, {6.26, 6.45, 6.77}, 0.3) == 3);
    CHECK(stated(spoon, {6.26, 6.60, 7.80}, 0.3) == 3);
    CHECK(stated(siphon, {6.40, 6.42, 6.39}, 1) == 3);
    // A bucket tells by its compartments whether it changed.
    CHECK(stated(bucket_200(), {6.21, 6.99, 7.27}, 1) == 3);
    // Evaluated again from its own observations it says the same, once.
    const auto once = evaluate(steps_of({6.21, 6.99, 7.27}, 1), spoon, plain_bench(), plan);
    REQUIRE(once);
    const auto again = evaluate(observations_of(*once), spoon, plain_bench(), plan);
    REQUIRE(again);
    CHECK(again->findings.size() == once->findings.size());
}

TEST_CASE("mass, volume, flow, intensity and error follow the definitions") {
    // Numbers worked by hand for 40 tips of 6.4 mL at 1 mL/s over 314.159 cm2:
    // I_ref = 600*60/314.159 = 114.592 mm/h; I_ind = 40*0.2/(256/3600) = 112.5 mm/h;
    // e = 0.2*31.4159/6.4 - 1 = -1.8253 %.
    const auto result = evaluate_step(observation_of(1, 6.4, 1.0, 40), bucket_200(), plain_bench());
    REQUIRE(result.ok());
    CHECK(result->volume_per_tip_mL.value == Approx(6.4).epsilon(1e-12));
    CHECK(result->flow_mL_min->value == Approx(60).epsilon(1e-12));
    CHECK(result->reference_intensity_mm_h->value == Approx(114.5916).epsilon(1e-6));
    CHECK(*result->indicated_intensity_mm_h == Approx(112.5).epsilon(1e-12));
    CHECK(result->error_percent.value == Approx(-1.82523).epsilon(1e-5));
    // e is the ratio of the two intensities as well: time cancels.
    CHECK(100 * (*result->indicated_intensity_mm_h / result->reference_intensity_mm_h->value - 1) ==
          Approx(result->error_percent.value).epsilon(1e-9));
}

TEST_CASE("a contact that counted fewer tips than there were is named, one that counted all is not") {
    StepObservation seen = observation_of(1, 6.4, 1.0, 40);
    seen.contact_counts = {40, 37};
    const auto evaluation = evaluate({seen}, bucket_200(), plain_bench(), Plan{});
    REQUIRE(evaluation);
    std::vector<Finding> counts;
    for (const Finding& finding : evaluation->findings)
        if (finding.id == FindingId::contact_counts) counts.push_back(finding);
    REQUIRE(counts.size() == 1);
    CHECK(*counts[0].number("contact") == 2);
    CHECK(*counts[0].number("missed") == 3);
    CHECK(*counts[0].number("tips") == 40);
}

TEST_CASE("a fit's residuals are v less the fit in per cent of v") {
    std::vector<StepObservation> seen;
    const double flows[] = {0.2, 0.5, 1.0, 2.0};
    const double volumes[] = {6.21, 6.28, 6.40, 6.75};
    for (int k = 0; k < 4; ++k) seen.push_back(observation_of(k + 1, volumes[k], flows[k], 60));
    const auto evaluation = evaluate(seen, bucket_200(), plain_bench(), Plan{});
    REQUIRE(evaluation);
    REQUIRE(evaluation->model);
    int lines = 0;
    for (const RateCandidate& candidate : evaluation->model->candidates) {
        if (candidate.form != RateForm::line) continue;
        ++lines;
        REQUIRE(candidate.residual_percent.size() == 4);
        for (std::size_t k = 0; k < 4; ++k) {
            const double fit = candidate.parameters[0].value + candidate.parameters[1].value * flows[k];
            CHECK(candidate.residual_percent[k] ==
                  Approx(100 * (volumes[k] - fit) / volumes[k]).margin(1e-6).epsilon(1e-6));
        }
    }
    CHECK(lines == 1);
}

TEST_CASE("evaporated water is added back") {
    BenchMetrology bench = plain_bench();
    bench.evaporation_g_h = {0.5, 0.1, infinite_dof};
    StepObservation seen = observation_of(1, 6.3, 0.05, 20);
    const double hours = *seen.duration_s / 3600;
    seen.balance_difference_g -= 0.5 * hours;
    const auto result = evaluate_step(seen, bucket_200(), bench);
    REQUIRE(result.ok());
    CHECK(result->evaporated_g == Approx(0.5 * hours));
    CHECK(result->volume_per_tip_mL.value == Approx(6.3).epsilon(1e-10));
}

// Every sensitivity of the budget against a finite difference of the whole evaluation.
TEST_CASE("sensitivities agree with finite differences") {
    BenchMetrology bench = plain_bench();
    bench.evaporation_g_h = {0.4, 0.1, infinite_dof};
    const Gauge gauge = bucket_200();
    const StepObservation seen = observation_of(1, 6.35, 0.2, 30);
    const auto base = evaluate_step(seen, gauge, bench);
    REQUIRE(base.ok());
    const auto sensitivity = [&](const std::string& id) {
        for (const auto& component : base->budget) {
            if (component.id == id) return component;
        }
        FAIL("no component " + id);
        return BudgetComponent{};
    };
    // Differences are exact to second order in the step; 1e-4 of the sensitivity covers that.
    constexpr double tolerance = 1e-4;
    SECTION("mass") {
        StepObservation more = seen;
        more.balance_difference_g += 1e-3;
        const auto moved = evaluate_step(more, gauge, bench);
        const double slope = std::log(moved->volume_mL.value / base->volume_mL.value) / 1e-3;
        CHECK(sensitivity("balance_linearity").dlnV == Approx(slope).epsilon(tolerance));
    }
    SECTION("evaporation rate") {
        BenchMetrology dry = bench;
        dry.evaporation_g_h.value += 1e-3;
        const auto moved = evaluate_step(seen, gauge, dry);
        const double slope = std::log(moved->volume_mL.value / base->volume_mL.value) / 1e-3;
        CHECK(sensitivity("evaporation").dlnV == Approx(slope).epsilon(tolerance));
    }
    SECTION("water temperature") {
        StepObservation warm = seen;
        warm.conditions.water_temperature_C += 1e-3;
        const auto moved = evaluate_step(warm, gauge, bench);
        const double slope = std::log(moved->volume_mL.value / base->volume_mL.value) / 1e-3;
        // The buoyancy term moves with the water's density too, by 1e-3 of the effect.
        CHECK(sensitivity("water_temperature").dlnV == Approx(slope).epsilon(2e-3));
    }
    SECTION("air density") {
        StepObservation high = seen;
        high.conditions.air_pressure_hPa += 1;
        const auto moved = evaluate_step(high, gauge, bench);
        const double slope = std::log(moved->volume_mL.value / base->volume_mL.value) /
                             (moved->air_density_kg_m3 - base->air_density_kg_m3);
        CHECK(sensitivity("air_density").dlnV == Approx(slope).epsilon(tolerance));
    }
    SECTION("catch area") {
        Gauge wider = gauge;
        wider.catch_diameter_mm.value += 1e-3;
        const auto moved = evaluate_step(seen, wider, bench);
        const double slope =
            std::log((100 + moved->error_percent.value) / (100 + base->error_percent.value)) /
            (wider.catch_area_cm2().value - gauge.catch_area_cm2().value);
        CHECK(sensitivity("catch_area").relative_to_e() == Approx(slope).epsilon(tolerance));
    }
}

// Line and movement time chosen, then found again. Rates: Humphrey et al. 1997, 6 to 254 mm/h.
TEST_CASE("a line v = V0 + tau Q comes back with its parameters") {
    std::vector<StepObservation> seen;
    int step = 0;
    for (const double intensity : {6.0, 12.0, 20.0, 30.0, 50.0, 75.0, 100.0, 150.0, 200.0, 254.0}) {
        const double flow = flow_mL_min(intensity, 314.159265) / 60;
        seen.push_back(observation_of(++step, 6.2 + 0.45 * flow, flow, 40));
    }
    const auto evaluation = evaluate(seen, bucket_200(), plain_bench(), Plan{});
    REQUIRE(evaluation.ok());
    REQUIRE(evaluation->model);
    CHECK(evaluation->model->chosen == RateForm::line);
    const RateCandidate* line = evaluation->model->chosen_candidate();
    REQUIRE(line != nullptr);
    CHECK(line->parameters[0].value == Approx(6.2).epsilon(1e-9));
    CHECK(line->parameters[1].value == Approx(0.45).epsilon(1e-8));
    CHECK(line->chi2 == Approx(0).margin(1e-9));
    CHECK(line->parameters[0].dof > 30);
    // h(T) = V0/A T/(T - tau): design.md's formula, at T = 5 s.
    const auto depth = depth_mm(*evaluation->model, evaluation->steps, bucket_200(), 5.0);
    REQUIRE(depth.ok());
    CHECK(depth->value == Approx(10 * 6.2 / 314.159265 * 5 / (5 - 0.45)).epsilon(1e-8));
    // The table repeats it, and every row's rate is depth over interval.
    for (const auto& row : evaluation->correction->rows) {
        const double expected = 10 * 6.2 / 314.159265 * row.interval_s / (row.interval_s - 0.45);
        CHECK(row.depth_mm.value == Approx(expected).epsilon(1e-8));
        CHECK(row.corrected_intensity_mm_h.value == Approx(3600 * row.depth_mm.value / row.interval_s));
    }
    // Between its two ends it holds the round rates that people look for.
    std::vector<double> between;
    for (std::size_t k = 1; k + 1 < evaluation->correction->rows.size(); ++k)
        between.push_back(std::round(10 * evaluation->correction->rows[k].indicated_intensity_mm_h) / 10);
    CHECK(between == std::vector<double>{7.5, 10, 15, 20, 30, 40, 50, 75, 90, 100, 130, 150, 170, 200});
}

TEST_CASE("curved volumes choose the curve, flat ones the constant, wild ones the table") {
    const auto chosen_for = [](auto volume) {
        std::vector<StepObservation> seen;
        int step = 0;
        for (const double flow : {0.05, 0.1, 0.3, 0.6, 1.0, 1.5, 2.0}) {
            ++step;
            seen.push_back(observation_of(step, volume(flow, step), flow, 60, 0.2));
        }
        const auto evaluation = evaluate(seen, bucket_200(), plain_bench(), Plan{});
        REQUIRE(evaluation.ok());
        CHECK(evaluation->model->candidates.size() == 4);
        return evaluation->model->chosen;
    };
    CHECK(chosen_for([](double, int) { return 6.3; }) == RateForm::constant);
    CHECK(chosen_for([](double flow, int) { return 6.2 + 0.2 * flow + 0.3 * flow * flow; }) ==
          RateForm::curve);
    CHECK(chosen_for([](double, int step) { return step % 2 == 0 ? 6.1 : 6.5; }) == RateForm::table);
}

TEST_CASE("a static check gives volume and error but no correction, and says why") {
    StepObservation seen = observation_of(1, 6.2, 1, 20);
    seen.duration_s.reset();
    const auto evaluation = evaluate({seen}, bucket_200(), plain_bench(), Plan{});
    REQUIRE(evaluation.ok());
    CHECK_FALSE(evaluation->model);
    CHECK_FALSE(evaluation->correction);
    CHECK(evaluation->no_correction == NoCorrection::static_check);
    CHECK(evaluation->steps[0].error_percent.value == Approx(100 * (6.283185 / 6.2 - 1)).epsilon(1e-5));
}

TEST_CASE("limits, rules and the probability of being wrong") {
    Plan plan;
    plan.limits = {"class B", "test", {{0, 600, -5, 5}}};
    std::vector<StepObservation> seen = {observation_of(1, 6.28 / 0.955, 1, 40)};  // e near -4.5 %
    const auto verdict = [&](DecisionRule rule) {
        plan.rule = rule;
        const auto evaluation = evaluate(seen, bucket_200(), plain_bench(), plan);
        REQUIRE(evaluation.ok());
        return evaluation->conformity.steps[0];
    };
    const StepConformity simple = verdict(DecisionRule::simple_acceptance);
    CHECK(simple.verdict == Verdict::pass);
    CHECK(simple.wrong_probability == Approx(1 - simple.conformance_probability));
    CHECK(verdict(DecisionRule::guard_band).verdict == Verdict::pass);
    // The same error with wide scatter is no longer clear of the limit by its U.
    seen[0].scatter.sd_percent = 5;
    CHECK(verdict(DecisionRule::simple_acceptance).verdict == Verdict::pass);
    CHECK(verdict(DecisionRule::guard_band).verdict == Verdict::undecided);
    CHECK(verdict(DecisionRule::conformance_probability).verdict == Verdict::undecided);
    seen[0] = observation_of(1, 6.28 / 0.90, 1, 40);  // e near -10 %
    CHECK(verdict(DecisionRule::guard_band).verdict == Verdict::fail);
}

TEST_CASE("impossible observations are refused, each by name") {
    const StepObservation good = observation_of(3, 6.3, 1, 20);
    const auto fault_of = [](const StepObservation& seen) {
        const auto result = evaluate_step(seen, bucket_200(), plain_bench());
        REQUIRE_FALSE(result.ok());
        CHECK(result.fault().where == "step 3");
        return result.fault().what;
    };
    StepObservation bad = good;
    bad.tips = 0;
    CHECK(fault_of(bad).find("0 tips") != std::string::npos);
    bad = good;
    bad.balance_difference_g = -5;
    CHECK(fault_of(bad).find("not positive") != std::string::npos);
    bad = good;
    bad.balance_difference_g = std::nan("");
    CHECK(fault_of(bad).find("not positive") != std::string::npos);
    bad = good;
    bad.conditions.water_temperature_C = 51;
    CHECK(fault_of(bad).find("0 to 50") != std::string::npos);
    bad = good;
    bad.duration_s = 0;
    CHECK(fault_of(bad).find("duration") != std::string::npos);
    const auto twice = evaluate({good, good}, bucket_200(), plain_bench(), Plan{});
    REQUIRE_FALSE(twice.ok());
    CHECK(twice.fault().code == FaultCode::duplicate);
}
