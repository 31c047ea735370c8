#include "calib/tips/pooled_scatter.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/decision/evaluation.hpp"
#include "calib/statistics/distributions.hpp"
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
    for (std::size_t k = 0; k < observations.size(); ++k)
        result.push_back(pooled_scatter(observations, k, Gauge{}));
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
    CHECK(alike[0].dof == Approx(29 / 3.0));
    const auto spoilt = pool_scatter({seen(1, 30, 9, "weighed groups"), seen(2, 1.3, 10, "weighed groups"),
                                      seen(3, 1.8, 10, "weighed groups")});
    CHECK(spoilt[0].sd_percent == Approx(30));
    CHECK(spoilt[0].dof == Approx(3));
    CHECK(spoilt[0].from == "weighed groups");
}

TEST_CASE("a siphon's scatter is that of an emptying, however many tips it has") {
    auto few = seen(1, 2.0, 9, "weighed groups");
    auto many = seen(2, 1.0, 9, "weighed groups");
    few.scatter.tips_per_group = 2;
    many.scatter.tips_per_group = 8;
    const auto pooled = pool_scatter({few, many});
    // 2.0 sqrt 2 and 1.0 sqrt 8 are the same.
    CHECK(pooled[0].sd_percent == Approx(2.0));
    CHECK(pooled[1].sd_percent == Approx(1.0));
    CHECK(pooled[0].dof == Approx(6));
}

TEST_CASE("what a siphon running dry makes of its tips agrees with a simulation") {
    Gauge gauge;
    gauge.inlet = Inlet::siphon;
    // The last movement of an emptying is caught anywhere with probability p, and then holds up to p less.
    std::mt19937_64 engine(5);
    std::uniform_real_distribution<double> uniform(0, 1);
    for (const double p : {0.05, 0.15, 0.4}) {
        gauge.siphon_tail_percent = 100 * p;
        double sum = 0;
        double squares = 0;
        constexpr int emptyings = 400000;
        for (int k = 0; k < emptyings; ++k) {
            const double at = uniform(engine);
            const double less = at < p ? p - at : 0;
            sum += less;
            squares += less * less;
        }
        const double mean = sum / emptyings;
        CHECK(siphon_tail_sd_percent(gauge) ==
              Approx(100 * std::sqrt(squares / emptyings - mean * mean)).epsilon(0.02));
    }
    gauge.inlet = Inlet::straight;
    CHECK(siphon_tail_sd_percent(gauge) == 0);
}

TEST_CASE("a stated siphon tail is pooled with what was seen, unless more was seen") {
    Gauge gauge;
    gauge.inlet = Inlet::siphon;
    gauge.siphon_tail_percent = 15;
    const double stated = siphon_tail_sd_percent(gauge);
    CHECK(stated == Approx(3.16).epsilon(2e-3));
    // No caught tip yet: far from sure.
    const auto lucky = pooled_scatter({seen(1, 0.3, 9, "weighed groups")}, 0, gauge);
    CHECK(lucky.sd_percent > 0.9 * stated);
    CHECK(lucky.from == "weighed groups, pooled with the stated siphon tail");
    // Too few emptyings to say anything: what is stated.
    const auto none = pooled_scatter({seen(1, 0, 0, "weighed groups")}, 0, gauge);
    CHECK(none.sd_percent == Approx(stated));
    CHECK(none.dof > 1);
    const auto worse = pooled_scatter({seen(1, 15, 12, "weighed groups")}, 0, gauge);
    CHECK(worse.sd_percent == Approx(15));
    CHECK(worse.from == "weighed groups");
    // Intervals between tips say nothing of emptyings.
    CHECK(pooled_scatter({seen(1, 0.3, 9)}, 0, gauge).sd_percent == 0.3);
}

// A step's 20 tips cannot tell a correlation of 0.3, four steps together can: u of the mean is then wider by
// the root of 1.3/0.7.
TEST_CASE("the correlation of tips that follow each other is pooled over the steps and widens u") {
    const test::KnownGauge known;
    const auto u_of = [&](double neighbours) {
        std::vector<StepObservation> observations;
        for (const double intensity : {20.0, 50.0, 100.0, 200.0}) {
            observations.push_back(
                known.step(static_cast<int>(observations.size()) + 1, intensity, 20).observation);
            observations.back().scatter.neighbours = neighbours;
            observations.back().scatter.neighbours_of = 20;
        }
        const auto evaluation = evaluate(observations, known.gauge, known.bench, Plan{});
        REQUIRE(evaluation);
        for (const BudgetComponent& one : evaluation->steps[1].budget)
            if (one.id.starts_with("tip_scatter")) return one.u;
        FAIL("no scatter of tips in the budget");
        return 0.0;
    };
    CHECK(u_of(0.3) == Approx(u_of(0) * std::sqrt(1.3 / 0.7)));
    CHECK(u_of(0.1) == u_of(0));
    CHECK(u_of(-0.3) == u_of(0));
}
