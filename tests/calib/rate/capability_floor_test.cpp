// No U is stated below the laboratory's capability (CMC), by one component of the budget that everything else
// follows from.
#include "calib/rate/capability_floor.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/decision/evaluation.hpp"
#include "calib/decision/statement.hpp"
#include "calib/laboratory/capability.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

// 97.5 % quantile of the normal distribution; tables everywhere, for example ISO 3534-1.
constexpr double k_infinite = 1.959963984540054;

Gauge bucket_200() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    gauge.contacts = {{}};
    return gauge;
}

// A true line v = V0 + tau Q, with a little scatter about it.
std::vector<StepObservation> line_of(const std::vector<double>& intensities_mm_h) {
    std::vector<StepObservation> out;
    const double area_cm2 = bucket_200().catch_area_cm2().value;
    const double off_percent[] = {0.05, -0.06, 0.04, 0.03, -0.05};
    for (const double intensity : intensities_mm_h) {
        const std::size_t k = out.size();
        const double flow_mL_s = flow_mL_min(intensity, area_cm2) / 60;
        const double v = (6.2 + 0.4 * flow_mL_s) * (1 + off_percent[k % 5] / 100);
        StepObservation seen;
        seen.step = static_cast<int>(k) + 1;
        seen.tips = 60;
        seen.duration_s = seen.tips * v / flow_mL_s;
        seen.balance_difference_g = 0.998 * seen.tips * v;
        seen.set_intensity_mm_h = intensity;
        seen.scatter = {0.4, 58, "intervals"};
        out.push_back(seen);
    }
    return out;
}

Evaluation evaluated(const std::vector<StepObservation>& seen, const BenchMetrology& bench,
                     const Plan& plan = {}) {
    auto out = evaluate(seen, bucket_200(), bench, plan, {"run-1", "", "", "", ""});
    INFO((out ? "" : out.fault().line()));
    REQUIRE(out);
    return *out;
}

BenchMetrology bench_with(std::vector<CapabilityPoint> table) {
    BenchMetrology bench;
    bench.capability = std::move(table);
    return bench;
}

}  // namespace

TEST_CASE("a capability stands at its intensities, on straight lines between, as the nearest beyond") {
    const std::vector<CapabilityPoint> table{{20, 1.0}, {100, 0.5}, {300, 0.9}};
    CHECK_FALSE(least_U_percent({}, 50.0));
    CHECK(*least_U_percent(table, 20.0) == 1.0);
    CHECK(*least_U_percent(table, 60.0) == Approx(0.75));
    CHECK(*least_U_percent(table, 200.0) == Approx(0.7));
    CHECK(*least_U_percent(table, 5.0) == 1.0);
    CHECK(*least_U_percent(table, 500.0) == 0.9);
    CHECK(*least_U_percent(table, std::nullopt) == 1.0);
    CHECK_FALSE(beyond_capability(table, 19.8));
    CHECK_FALSE(beyond_capability(table, 303));
    CHECK(beyond_capability(table, 5));
    CHECK(beyond_capability(table, 400));
    CHECK_FALSE(beyond_capability({}, 400));
}

TEST_CASE("what is lacking is added in squares, and k follows the degrees of freedom it leaves") {
    const double u = lacking_u({0, 0.1, infinite_dof}, 0.5, 0.95);
    CHECK(k_infinite * std::hypot(0.1, u) == Approx(0.5).epsilon(1e-12));
    CHECK(lacking_u({0, 0.3, infinite_dof}, 0.5, 0.95) == 0);
    // With few degrees of freedom U first falls as certain variance is added to uncertain one.
    for (const double dof : {1.0, 2.0, 4.0, 9.0, 50.0})
        for (const double least : {0.5, 1.5, 20.0}) {
            const Uncertain x{0, 0.1, dof};
            INFO(dof << " " << least);
            if (expanded(x).U >= least)
                CHECK(lacking_u(x, least, 0.95) == 0);
            else
                CHECK(expanded(raised(x, least, 0.95)).U == Approx(least).epsilon(1e-9));
        }
}

TEST_CASE("U of 0.2 % on a bench that claims 0.5 % is stated as 0.5 %") {
    const auto seen = line_of({20, 60, 150, 300, 450});
    const Evaluation plain = evaluated(seen, BenchMetrology{});
    const Evaluation claimed = evaluated(seen, bench_with({{20, 0.5}, {450, 0.5}}));
    for (std::size_t k = 0; k < seen.size(); ++k) {
        REQUIRE(plain.steps[k].error_expanded.U < 0.3);
        CHECK(claimed.steps[k].error_expanded.U == 0.5);
        CHECK(is_raised(claimed.steps[k]));
        CHECK_FALSE(is_raised(plain.steps[k]));
        CHECK(claimed.steps[k].error_expanded.k * claimed.steps[k].error_percent.u ==
              Approx(0.5).epsilon(1e-12));
        // The value is what was measured.
        CHECK(claimed.steps[k].error_percent.value == plain.steps[k].error_percent.value);
        CHECK(measured_U_percent(claimed.steps[k], 0.95) ==
              Approx(plain.steps[k].error_expanded.U).epsilon(1e-12));
    }
    // Where U is larger nothing changes, not in the last digit.
    const Evaluation low = evaluated(seen, bench_with({{20, 0.01}, {450, 0.01}}));
    for (std::size_t k = 0; k < seen.size(); ++k) {
        CHECK(low.steps[k].error_expanded.U == plain.steps[k].error_expanded.U);
        CHECK(low.steps[k].budget.size() == plain.steps[k].budget.size());
    }
    CHECK(low.model->chosen_candidate()->covariance == plain.model->chosen_candidate()->covariance);
}

TEST_CASE("a capability is brought to the coverage a plan wants") {
    Plan plan;
    plan.coverage = 0.99;
    const Evaluation claimed = evaluated(line_of({60}), bench_with({{60, 0.5}}), plan);
    // 99.5 % quantile of the normal distribution.
    CHECK(claimed.steps[0].error_expanded.U == Approx(0.5 * 2.5758293035489 / k_infinite).epsilon(1e-9));
}

TEST_CASE("a capability moves no estimate, and no U of the correction is below it") {
    const auto seen = line_of({20, 60, 150, 300, 450});
    const Evaluation plain = evaluated(seen, BenchMetrology{});
    // Different sizes at the steps: taken for knowledge of how the points lie, they would turn the line.
    const std::vector<CapabilityPoint> table{{20, 0.9}, {150, 0.35}, {450, 0.7}};
    const Evaluation claimed = evaluated(seen, bench_with(table));
    REQUIRE(claimed.model->chosen == RateForm::line);
    const auto& before = *plain.model->chosen_candidate();
    const auto& after = *claimed.model->chosen_candidate();
    for (std::size_t k = 0; k < 2; ++k) {
        CHECK(after.parameters[k].value == before.parameters[k].value);
        CHECK(after.parameters[k].u == before.parameters[k].u);
    }
    for (std::size_t k = 0; k < seen.size(); ++k)
        CHECK(claimed.steps[k].flow_mL_min->u == plain.steps[k].flow_mL_min->u);
    CHECK(after.chi2 == before.chi2);
    REQUIRE(claimed.correction->rows.size() == plain.correction->rows.size());
    for (std::size_t k = 0; k < claimed.correction->rows.size(); ++k) {
        const CorrectionRow& row = claimed.correction->rows[k];
        CHECK(row.depth_mm.value == plain.correction->rows[k].depth_mm.value);
        const double least = *least_U_percent(table, row.corrected_intensity_mm_h.value);
        CHECK(100 * row.factor_U / row.factor >= least * (1 - 1e-9));
        CHECK(100 * expanded(row.depth_mm).U / row.depth_mm.value >= least * (1 - 1e-9));
        // Raised to the capability, not beyond it.
        const double own = 100 * plain.correction->rows[k].factor_U / plain.correction->rows[k].factor;
        CHECK(100 * row.factor_U / row.factor <= std::hypot(own, least) * 1.01);
    }
}

TEST_CASE("steps raised to the capability have that in common") {
    const auto seen = line_of({20, 60});
    const Evaluation claimed = evaluated(seen, bench_with({{20, 2}, {60, 2}}));
    const auto of = [&](std::size_t k) {
        return error_contributions(claimed.steps[k], "step " + std::to_string(k),
                                   100 + claimed.steps[k].error_percent.value);
    };
    const double correlation =
        covariance(of(0), of(1)) / (claimed.steps[0].error_percent.u * claimed.steps[1].error_percent.u);
    CHECK(correlation > 0.98);
}

TEST_CASE("runs of a step are raised as one result, not each for itself and then averaged") {
    auto seen = line_of({60, 60, 60});
    for (std::size_t k = 0; k < 3; ++k) {
        seen[k].step = 1;
        seen[k].repeat = static_cast<int>(k) + 1;
    }
    const Evaluation plain = evaluated(seen, BenchMetrology{});
    const Evaluation claimed = evaluated(seen, bench_with({{60, 0.8}}));
    REQUIRE(plain.steps.size() == 1);
    CHECK(plain.steps[0].error_expanded.U < 0.5);
    CHECK(claimed.steps[0].error_expanded.U == 0.8);
    CHECK(measured_U_percent(claimed.steps[0], 0.95) ==
          Approx(plain.steps[0].error_expanded.U).epsilon(1e-12));
    for (const StepRepeat& run : claimed.steps[0].repeats) CHECK(run.error_expanded.U == 0.8);
}

TEST_CASE("the verdict is that of the U stated") {
    Plan plan;
    plan.rule = DecisionRule::guard_band;
    const auto seen = line_of({60});
    const double e = evaluated(seen, BenchMetrology{}).steps[0].error_percent.value;
    const double U = evaluated(seen, BenchMetrology{}).steps[0].error_expanded.U;
    // Room for the U that was measured, not for the one claimed.
    plan.limits.rows = {{0, 500, e - 1.5 * U, e + 1.5 * U}};
    CHECK(evaluated(seen, BenchMetrology{}, plan).conformity.overall == Verdict::pass);
    CHECK(evaluated(seen, bench_with({{60, 2 * U}}), plan).conformity.overall == Verdict::undecided);
}

TEST_CASE("Monte Carlo states no interval narrower than the capability") {
    // Rectangular parts alone: the interval is narrower than e +- U.
    BenchMetrology bench;
    bench.balance.linearity_half_width_g = 2;
    auto seen = line_of({60});
    seen[0].scatter = {0.001, 58, "intervals"};
    Evaluation plain = evaluated(seen, bench);
    const double U = plain.steps[0].error_expanded.U;
    REQUIRE(check_by_monte_carlo(plain, Plan{}));
    REQUIRE(plain.steps[0].error_expanded.U < 0.99 * U);
    bench.capability = {{60, 0.995 * U}};
    Evaluation claimed = evaluated(seen, bench);
    REQUIRE(check_by_monte_carlo(claimed, Plan{}));
    CHECK(claimed.steps[0].error_expanded.U >= 0.995 * U);
}

TEST_CASE("Monte Carlo confirms a U that was raised: what is claimed is symmetric about e") {
    Evaluation claimed = evaluated(line_of({20, 60, 150}), bench_with({{20, 0.9}, {150, 3.0}}));
    REQUIRE(check_by_monte_carlo(claimed, Plan{}));
    CHECK(claimed.steps[0].error_expanded.U == Approx(0.9).epsilon(0.002));
    CHECK(claimed.steps[2].error_expanded.U == Approx(3.0).epsilon(0.002));
    for (const MonteCarloCheck& check : claimed.monte_carlo) CHECK(check.error_percent.validation.valid);
}

TEST_CASE("a capability is worked out from what is measured, not from what was claimed before") {
    const auto seen = line_of({60});
    const Evaluation plain = evaluated(seen, BenchMetrology{});
    const Evaluation claimed = evaluated(seen, bench_with({{60, 3}}));
    const auto a = capability_at({60, {&plain.steps[0]}, 0, 1});
    const auto b = capability_at({60, {&claimed.steps[0]}, 0, 1});
    REQUIRE(a);
    REQUIRE(b);
    CHECK(a->U_percent == b->U_percent);
}

TEST_CASE("of budgets without uncertainty no capability is made") {
    StepResult step;
    step.error_percent = {-2, 0, infinite_dof};
    const auto nothing = capability_at({60, {&step}, 0, 1});
    REQUIRE_FALSE(nothing);
    CHECK(nothing.fault().code == FaultCode::not_finite);
    const auto unknown = capability_at({60, {&step}, std::nan(""), 9});
    REQUIRE_FALSE(unknown);
    CHECK(unknown.fault().code == FaultCode::not_finite);
    // What the check gauge's runs scatter is an uncertainty by itself.
    const auto scattered = capability_at({60, {&step}, 0.1, 9});
    REQUIRE(scattered);
    CHECK(scattered->u_percent == Approx(0.1));
}

TEST_CASE("an allowance for dissolved matter enters the budget through the density") {
    const auto seen = line_of({60});
    BenchMetrology bench;
    const Evaluation plain = evaluated(seen, bench);
    bench.water_allowance_kg_m3 = 3;
    const Evaluation allowed = evaluated(seen, bench);
    const double rho_w = allowed.steps[0].water_density_kg_m3;
    const double added = (100 + plain.steps[0].error_percent.value) * 3 / std::sqrt(3.0) / rho_w;
    CHECK(allowed.steps[0].error_percent.u ==
          Approx(std::hypot(plain.steps[0].error_percent.u, added)).epsilon(1e-12));
}

TEST_CASE("a step outside the permitted conditions is found and stands with reservation") {
    auto seen = line_of({20, 60});
    seen[1].conditions.air_temperature_C = 27.3;
    BenchMetrology bench = bench_with({{50, 0.1}, {70, 0.1}});
    bench.environment.air_temperature_C = PermittedRange{18, 26};
    bench.environment.water_temperature_C = PermittedRange{15, 25};
    const Evaluation out = evaluated(seen, bench);
    REQUIRE(out.findings.size() == 2);
    CHECK(out.findings[0].id == FindingId::beyond_capability);
    CHECK(out.findings[0].step == 1);
    CHECK(out.findings[1].id == FindingId::air_temperature_outside);
    CHECK(out.findings[1].step == 2);
    CHECK(out.findings[1].number("value") == 27.3);
    CHECK(out.findings[1].number("high") == 26);
    const Statement statement = statement_of(out, bucket_200(), Grounds{});
    CHECK(statement.of_step(1)->result == Claim::stated);
    CHECK(statement.of_step(2)->result == Claim::reserved);
    CHECK(statement.has(ReservationId::environment_outside));
    CHECK(statement.needs_acceptance());
}
