#include "calib/pooled_scatter.hpp"

#include <catch2/catch.hpp>

#include "calib/distributions.hpp"
#include "calib/evaluation.hpp"
#include "tests/calib/steps_for_tests.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

StepObservation seen(int step, double sd_percent, double dof, const std::string& from = "intervals",
                     double per_tip_g = 6) {
    StepObservation observation;
    observation.step = step;
    observation.tips = 20;
    observation.balance_difference_g = 20 * per_tip_g;
    observation.scatter = {sd_percent, dof, from};
    return observation;
}

std::vector<TipScatter> pool_scatter(const std::vector<StepObservation>& observations) {
    std::vector<TipScatter> result;
    for (std::size_t k = 0; k < observations.size(); ++k) result.push_back(pooled_scatter(observations, k));
    return result;
}

}  // namespace

// NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.7 (data and result from memory): the gear
// diameters, ten batches of ten, T = 20.786 with 9 degrees of freedom. The batch standard deviations are
// rounded to four digits, so T agrees to three.
TEST_CASE("Bartlett's statistic of the gear diameters") {
    std::vector<ScatterSample> batches;
    for (const double sd :
         {.004346, .005216, .003977, .003853, .007579, .009887, .007874, .003627, .004137, .005329})
        batches.push_back({sd, 9});
    const double limit = chi_squared_quantile(0.95, 9);
    CHECK(limit == Approx(16.919).margin(0.0005));
    CHECK(bartlett_ratio(batches, 0.95) * limit == Approx(20.786).margin(0.005));
    CHECK(bartlett_ratio(batches, 0.95) > 1);
    CHECK(bartlett_ratio(batches, 0.99) < 1);
}

TEST_CASE("fewer than two samples with scatter agree") {
    CHECK(bartlett_ratio({}, 0.95) == 0);
    CHECK(bartlett_ratio({{1, 5}}, 0.95) == 0);
    CHECK(bartlett_ratio({{1, 5}, {0, 5}, {2, 0}}, 0.95) == 0);
}

TEST_CASE("steps that agree share one scatter, in millilitres a tip") {
    const auto shared = pool_scatter({seen(1, 0.6, 10), seen(2, 0.4, 30, "intervals", 7.5)});
    // By hand: 0.036 g and 0.030 g; sqrt((10 0.036^2 + 30 0.030^2) / 40) = 0.031607 g.
    CHECK(shared[0].sd_percent == Approx(100 * 0.031607 / 6).epsilon(1e-4));
    CHECK(shared[1].sd_percent == Approx(100 * 0.031607 / 7.5).epsilon(1e-4));
    CHECK(shared[0].dof == 40);
    CHECK(shared[0].from == "intervals, pooled over 2 steps");
}

TEST_CASE("steps that differ, or were seen in another way, keep their own scatter") {
    const auto apart = pool_scatter({seen(1, 0.3, 30), seen(2, 1.2, 30)});
    CHECK(apart[0].sd_percent == 0.3);
    CHECK(apart[1].dof == 30);
    const auto other = pool_scatter({seen(1, 0.5, 10), seen(2, 0.5, 10, "weighed groups"), seen(3, 0, 0)});
    CHECK(other[0].dof == 10);
    CHECK(other[1].from == "weighed groups");
    CHECK(other[2].dof == 0);
}

TEST_CASE("the budget of an evaluation carries the pooled scatter and its degrees of freedom") {
    const test::KnownGauge known;
    std::vector<StepObservation> observations;
    for (const auto& step : known.steps({10, 50, 200})) observations.push_back(step.observation);
    const auto evaluation = evaluate(observations, known.gauge, known.bench, Plan{});
    REQUIRE(evaluation);
    for (const auto& step : evaluation->steps) {
        const auto line = std::find_if(step.budget.begin(), step.budget.end(), [](const auto& component) {
            return component.id == "tip_scatter_pooled";
        });
        REQUIRE(line != step.budget.end());
        CHECK(line->dof == 3 * 59);
        CHECK(step.observation.scatter.dof == 59);
    }
}

TEST_CASE(
    "groups of a siphon are pooled though they differ somewhat, not with a step that false tips spoilt") {
    const auto alike = pool_scatter({seen(1, 2.4, 9, "weighed groups"), seen(2, 1.1, 10, "weighed groups"),
                                     seen(3, 1.8, 10, "weighed groups")});
    CHECK(alike[0].dof == 29);
    const auto spoilt = pool_scatter({seen(1, 30, 9, "weighed groups"), seen(2, 1.3, 10, "weighed groups"),
                                      seen(3, 1.8, 10, "weighed groups")});
    CHECK(spoilt[0].sd_percent == 30);
    CHECK(spoilt[0].dof == 9);
}
