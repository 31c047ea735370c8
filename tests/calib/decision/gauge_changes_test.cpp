#include "calib/decision/gauge_changes.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "calib/decision/evaluation.hpp"
#include "calib/decision/statement.hpp"
#include "calib/weighing/air.hpp"
#include "calib/weighing/water.hpp"

using namespace tipwright::calib;

namespace {

Gauge spoon() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.1;
    gauge.catch_diameter_mm = {159.6, 0.12, infinite_dof};
    gauge.compartments = 1;
    gauge.contacts = {{}};
    gauge.max_intensity_mm_h = 300;
    return gauge;
}

struct Ran {
    double flow_mL_s;
    double volume_mL;
    int tips;
};

std::vector<StepObservation> run_of(const std::vector<Ran>& steps) {
    std::vector<StepObservation> out;
    for (const Ran& step : steps) {
        StepObservation seen;
        seen.step = static_cast<int>(out.size()) + 1;
        seen.tips = step.tips;
        seen.duration_s = step.tips * step.volume_mL / step.flow_mL_s;
        const double rho_w = water_density_kg_m3(20);
        const double rho_a = air_density_kg_m3(20, 1013.25, 50);
        seen.balance_difference_g =
            step.tips * step.volume_mL * rho_w / 1000 * (1 - rho_a / rho_w) / (1 - 1.2 / 8000);
        seen.scatter = {0.6, step.tips - 1.0, "intervals"};
        out.push_back(seen);
    }
    return out;
}

Evaluation evaluated(const std::vector<StepObservation>& run) {
    BenchMetrology bench;
    bench.evaporation_g_h = {0, 0, infinite_dof};
    const auto out = evaluate(run, spoon(), bench, {});
    INFO((out ? std::string() : out.fault().line()));
    REQUIRE(out);
    return *out;
}

// Which steps a document may state.
std::vector<int> stated(const Evaluation& evaluation) {
    std::vector<int> out;
    for (const StepStatement& step : statement_of(evaluation, spoon(), {}).steps)
        if (step.result != Claim::not_stated) out.push_back(step.step);
    return out;
}

}  // namespace

// Volumes that a virtual spoon showed that shifted by 4 % between its second step and its third
// (magnet-spoon-160, seed 19 of the honesty campaign, at 720 s): over three rates a spoon that the inflow
// holds down more.
TEST_CASE("a spoon that changed between two steps is told by the rate that is run again") {
    const std::vector<Ran> three{{0.111, 1.9790, 20}, {0.388, 2.0712, 30}, {0.834, 2.3483, 40}};
    CHECK(stated(evaluated(run_of(three))) == std::vector{1, 2, 3});  // nothing can tell
    std::vector<Ran> returned = three;
    returned.push_back({0.1115, 2.0643, 8});
    const Evaluation told = evaluated(run_of(returned));
    CHECK(stated(told) == std::vector{4});
    CHECK_FALSE(told.correction);
    const auto differs = rate_differs(told.steps);
    REQUIRE(differs);
    CHECK(differs->before == 0);
    CHECK(differs->again == 3);
    CHECK(differs->percent == Approx(100 * (2.0643 / 1.9790 - 1)).epsilon(1e-6));
    // Evaluated again from its own observations it says the same, once.
    CHECK(evaluated(observations_of(told)).findings.size() == told.findings.size());
}

TEST_CASE("a sound gauge that returns to a rate keeps its steps, and its curve can be tested") {
    const std::vector<Ran> sound{
        {0.111, 1.9790, 20}, {0.388, 2.0712, 30}, {0.834, 2.2710, 40}, {0.1113, 1.9837, 8}};
    const Evaluation evaluation = evaluated(run_of(sound));
    CHECK(stated(evaluation) == std::vector{1, 2, 3, 4});
    REQUIRE(evaluation.model);
    CHECK(evaluation.model->rates() == 3);
    REQUIRE(evaluation.model->chosen_candidate() != nullptr);
    CHECK(evaluation.model->chosen_candidate()->dof == 1);
}

TEST_CASE("of a table that others made the order of the runs is not known") {
    auto run = run_of({{0.111, 1.9790, 20}, {0.388, 2.0712, 30}, {0.834, 2.3483, 40}, {0.1115, 2.0643, 8}});
    for (StepObservation& step : run) step.ended = CollectEnd::supplied;
    CHECK(stated(evaluated(run)) == std::vector{1, 2, 3, 4});
}

// Two points of one rate that differ a little in flow and in volume: the point table joins them, where a
// curve through both would rise or fall as their scatter does.
TEST_CASE("the point table has no slope between two runs of one rate") {
    RateModel model;
    model.chosen = RateForm::table;
    for (const auto& [flow, volume] : {std::pair{0.1110, 2.00}, {0.1111, 2.02}, {0.40, 2.10}, {0.80, 2.30}})
        model.points.push_back({flow, {volume, 0.01, infinite_dof}});
    model.flow_min_mL_s = 0.1110;
    model.flow_max_mL_s = 0.80;
    CHECK(model.volume_at(0.11105).value == Approx(2.01).margin(0.001));
    CHECK(std::abs(model.slope_at(0.11105)) < 1);
}
