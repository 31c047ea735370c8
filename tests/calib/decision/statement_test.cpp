// What may be stated: from a known gauge's observations, with findings put to them.
#include <catch2/catch.hpp>

#include <set>

#include "calib/decision/evaluation.hpp"
#include "calib/decision/statement.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright::calib;
using namespace tipwright;

namespace {

Plan plan_within(double percent) {
    Plan plan;
    plan.limits.name = "test";
    plan.limits.rows = {{0, 1000, -percent, percent}};
    return plan;
}

std::vector<StepObservation> observations(const test::KnownGauge& known) {
    std::vector<StepObservation> out;
    int number = 0;
    for (const double intensity : {20, 50, 90, 150, 200})
        out.push_back(known.step(++number, intensity).observation);
    return out;
}

Finding phantom() {
    return finding_of(FindingId::phantom_timed, {count_of("count", 33), count_of("tips", 66)});
}

}  // namespace

TEST_CASE("a sound run is stated whole") {
    const test::KnownGauge known;
    const auto evaluation = evaluate(observations(known), known.gauge, known.bench, plan_within(30));
    REQUIRE(evaluation);
    const Statement said = statement_of(*evaluation, known.gauge, {});
    CHECK(said.results == Claim::stated);
    CHECK(said.correction == Claim::stated);
    CHECK(said.verdict == Claim::stated);
    CHECK(said.reservations.empty());
    CHECK_FALSE(said.needs_acceptance());
    CHECK(evaluation->correction_steps == std::vector<int>{1, 2, 3, 4, 5});
}

TEST_CASE("a step with false tips enters no fit, no verdict and no correction") {
    const test::KnownGauge known;
    auto seen = observations(known);
    const auto sound = evaluate(seen, known.gauge, known.bench, plan_within(30));
    REQUIRE(sound);
    // Twice the tips with the same water: an error of +100 % that is not the gauge's.
    seen[2].tips *= 2;
    seen[2].findings = {phantom()};
    const auto evaluation = evaluate(seen, known.gauge, known.bench, plan_within(30));
    REQUIRE(evaluation);
    CHECK(evaluation->correction_steps == std::vector<int>{1, 2, 4, 5});
    CHECK(evaluation->conformity.steps[2].verdict == Verdict::not_stated);
    CHECK(evaluation->conformity.overall == Verdict::not_stated);
    const double flow = sound->steps[2].flow_mL_min->value / 60;
    CHECK(evaluation->model->volume_at(flow).value ==
          Approx(sound->model->volume_at(flow).value).epsilon(2e-3));
    const Statement said = statement_of(*evaluation, known.gauge, {});
    CHECK(said.of_step(3)->result == Claim::not_stated);
    CHECK(said.of_step(3)->verdict == Claim::not_stated);
    CHECK_FALSE(said.of_step(3)->in_correction);
    CHECK(said.withheld_steps() == std::vector<int>{3});
    CHECK(said.of_step(2)->result == Claim::stated);
    CHECK(said.results == Claim::reserved);
    CHECK(said.correction == Claim::reserved);
    CHECK(said.verdict == Claim::not_stated);
    CHECK(said.needs_acceptance());
    CHECK(said.has(ReservationId::tips_doubted));
    CHECK(said.has(ReservationId::steps_left_out));
}

TEST_CASE("a gauge whose every step is doubted has no result at all") {
    const test::KnownGauge known;
    auto seen = observations(known);
    for (auto& step : seen) step.findings = {phantom()};
    const auto evaluation = evaluate(seen, known.gauge, known.bench, plan_within(30));
    REQUIRE(evaluation);
    CHECK_FALSE(evaluation->model);
    CHECK_FALSE(evaluation->correction);
    CHECK(evaluation->no_correction == NoCorrection::steps_doubted);
    const Statement said = statement_of(*evaluation, known.gauge, {});
    CHECK(said.results == Claim::not_stated);
    CHECK(said.correction == Claim::not_stated);
    CHECK(said.verdict == Claim::not_stated);
}

TEST_CASE("a step beyond its limits fails whatever another step would have shown") {
    const test::KnownGauge known;
    auto seen = observations(known);
    seen[0].findings = {phantom()};
    const auto evaluation = evaluate(seen, known.gauge, known.bench, plan_within(0.001));
    REQUIRE(evaluation);
    CHECK(evaluation->conformity.overall == Verdict::fail);
    CHECK(statement_of(*evaluation, known.gauge, {}).verdict == Claim::reserved);
}

TEST_CASE("each finding says how far it goes") {
    test::KnownGauge known;
    const auto claim_with = [&](FindingId id) {
        auto seen = observations(known);
        seen[1].findings = {finding_of(id, {})};
        const auto evaluation = evaluate(seen, known.gauge, known.bench, plan_within(30));
        REQUIRE(evaluation);
        return statement_of(*evaluation, known.gauge, {}).of_step(2)->result;
    };
    for (const FindingId id : {FindingId::phantom_weighed, FindingId::missed_timed, FindingId::contact_extra,
                               FindingId::compartment_uncounted, FindingId::balance_disturbed})
        CHECK(claim_with(id) == Claim::not_stated);
    for (const FindingId id : {FindingId::contact_missed, FindingId::contact_bounce, FindingId::funnel_slows})
        CHECK(claim_with(id) == Claim::reserved);
    for (const FindingId id : {FindingId::compartment_a_larger, FindingId::target_missed})
        CHECK(claim_with(id) == Claim::stated);
    // In a siphon's slugs nobody knows whether a lone closure is a tip.
    known.gauge.inlet = Inlet::siphon;
    CHECK(claim_with(FindingId::contact_missed) == Claim::not_stated);
}

TEST_CASE("what speaks against the whole run reserves every step") {
    const test::KnownGauge known;
    const auto evaluation = evaluate(observations(known), known.gauge, known.bench, plan_within(30));
    REQUIRE(evaluation);
    Grounds grounds;
    grounds.run_findings = {finding_of(FindingId::evaporation_drift, {})};
    Statement said = statement_of(*evaluation, known.gauge, grounds);
    CHECK(said.of_step(1)->result == Claim::reserved);
    CHECK(said.correction == Claim::reserved);
    // One collect that was dropped and measured again is a remark, two are a reservation.
    Finding dropped = finding_of(FindingId::dropped_flow, {});
    dropped.step = 4;
    grounds.run_findings = {dropped};
    CHECK(statement_of(*evaluation, known.gauge, grounds).reservations.empty());
    grounds.run_findings = {dropped, dropped};
    said = statement_of(*evaluation, known.gauge, grounds);
    CHECK(said.of_step(4)->result == Claim::reserved);
    CHECK(said.of_step(3)->result == Claim::stated);
    grounds.run_findings = {};
    grounds.complete = false;
    CHECK(statement_of(*evaluation, known.gauge, grounds).needs_acceptance());
}

TEST_CASE("limits that nobody confirmed leave a verdict with reservation, for somebody to confirm") {
    const test::KnownGauge known;
    Plan plan = plan_within(30);
    plan.limits.confirmed = false;
    const auto evaluation = evaluate(observations(known), known.gauge, known.bench, plan);
    REQUIRE(evaluation);
    const Statement said = statement_of(*evaluation, known.gauge, {});
    CHECK(said.verdict == Claim::reserved);
    CHECK(said.results == Claim::stated);
    CHECK_FALSE(said.needs_acceptance());
}

TEST_CASE("a document is called what it is") {
    const test::KnownGauge known;
    const auto evaluation = evaluate(observations(known), known.gauge, known.bench, Plan{});
    REQUIRE(evaluation);
    Grounds grounds;
    CHECK(statement_of(*evaluation, known.gauge, grounds).document == DocumentKind::calibration_certificate);
    grounds.traceability.any_certificate = false;
    CHECK(statement_of(*evaluation, known.gauge, grounds).document == DocumentKind::test_report);
    grounds.supplied = true;
    CHECK(statement_of(*evaluation, known.gauge, grounds).document == DocumentKind::evaluation_report);
}
