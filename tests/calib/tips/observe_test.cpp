#include "calib/tips/observe.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace tipwright;
using namespace tipwright::calib;

namespace {

Gauge bucket() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    gauge.contacts = {{}};
    return gauge;
}

// Tips at alternating intervals; each discharge arrives after a delay and then with a lag, as drain and
// balance filter make it. Known answer: mass_a and mass_b per tip.
struct Staircase {
    std::vector<Tip> tips;
    std::vector<WeightPoint> weights;
};

Staircase staircase(double mean_s, int count, double mass_a_g, double mass_b_g, const BenchMetrology& bench) {
    Staircase made;
    const double mean_g = (mass_a_g + mass_b_g) / 2;
    double time_s = 3;
    std::vector<double> mass_g;
    for (int k = 0; k < count; ++k) {
        const bool a = k % 2 == 0;
        time_s += mean_s * (a ? mass_a_g : mass_b_g) / mean_g;
        made.tips.push_back({time_s, {true, false}});
        mass_g.push_back(a ? mass_a_g : mass_b_g);
    }
    const double end_s = time_s + mean_s + 20;
    for (double t = 0; t < end_s; t += 0.2) {
        double reading = 100;
        for (std::size_t k = 0; k < made.tips.size(); ++k) {
            const double since = t - made.tips[k].time_s - bench.discharge_delay_s;
            if (since > 0) reading += mass_g[k] * (1 - std::exp(-since / bench.discharge_lag_s));
        }
        made.weights.push_back({t, reading});
    }
    return made;
}

BenchMetrology bench_with_lag() {
    BenchMetrology bench;
    bench.discharge_delay_s = 0.3;
    bench.discharge_lag_s = 0.8;
    return bench;
}

}  // namespace

TEST_CASE("a long interval is weighed on its plateau") {
    const BenchMetrology bench = bench_with_lag();
    const Staircase made = staircase(30, 25, 6.4, 6.0, bench);
    const auto seen = observe_collect(made.tips, 3, 23, made.weights, bucket(), bench);
    REQUIRE(seen.ok());
    CHECK(seen->weighing == WeighingMethod::plateau);
    CHECK(seen->tips == 20);
    CHECK(*seen->duration_s == Approx(20 * 30));
    CHECK(seen->started_s == made.tips[3].time_s);
    // What is still on its way after the window opens is equal at both ends: only rounding remains.
    CHECK(seen->balance_difference_g == Approx(20 * 6.2).margin(1e-6));
    REQUIRE(seen->compartments);
    CHECK(seen->compartments->a_excess_percent == Approx(100 * 0.2 / 6.2).epsilon(1e-9));
}

TEST_CASE("a short interval is weighed over the staircase") {
    const BenchMetrology bench = bench_with_lag();
    for (const double mean_s : {3.0, 1.4, 0.7}) {
        const Staircase made = staircase(mean_s, 125, 6.4, 6.0, bench);
        const auto seen = observe_collect(made.tips, 21, 121, made.weights, bucket(), bench);
        REQUIRE(seen.ok());
        CHECK(seen->weighing == WeighingMethod::staircase);
        // Sampling at 5 Hz against a staircase: below 0.5 % of one tip in a hundred.
        CHECK(seen->balance_difference_g == Approx(100 * 6.2).margin(0.03));
    }
}

TEST_CASE("an odd number of tips would carry the compartments' difference") {
    const BenchMetrology bench = bench_with_lag();
    const Staircase made = staircase(30, 25, 6.4, 6.0, bench);
    const auto odd = observe_collect(made.tips, 3, 22, made.weights, bucket(), bench);
    REQUIRE(odd.ok());
    // standards.md section 4.2: bias of half the asymmetry over N.
    CHECK(odd->balance_difference_g / 19 - 6.2 == Approx(0.2 / 19).epsilon(1e-3));
}

TEST_CASE("scatter is about each compartment's own mean") {
    const std::vector<double> intervals = {10, 12, 10.2, 12.2, 9.8, 11.8, 10, 12};
    const TipScatter two = scatter_from_intervals(intervals, 2);
    CHECK(two.dof == 6);
    // Squares: 0.04 + 0.04 in each compartment, over 6, mean 11.
    CHECK(two.sd_percent == Approx(100 * std::sqrt(0.16 / 6) / 11).epsilon(1e-12));
    CHECK(scatter_from_intervals(intervals, 1).sd_percent > 5);
    CHECK(scatter_from_intervals(std::vector<double>{1, 2, 3}, 2).dof == 0);
}

TEST_CASE("a pump that wears does not change how neighbouring intervals go together") {
    std::vector<double> even, worn;
    // No two neighbours alike, and no trend but what is added: 0.1 s over the collect.
    for (int k = 0; k < 40; ++k) {
        even.push_back(10 + 0.02 * ((k * 7) % 11 - 5));
        worn.push_back(even.back() + 0.1 * k / 39);
    }
    const TipScatter before = scatter_from_intervals(even, 1);
    CHECK(before.neighbours_of == 40);
    CHECK(std::abs(before.neighbours) > 0.05);
    CHECK(std::abs(before.neighbours) < 0.9);
    CHECK(scatter_from_intervals(worn, 1).neighbours == Approx(before.neighbours).margin(1e-9));
}

TEST_CASE("no readings at an edge is a fault, not a number") {
    const BenchMetrology bench = bench_with_lag();
    Staircase made = staircase(30, 25, 6.4, 6.0, bench);
    std::erase_if(made.weights, [&](const WeightPoint& w) { return w.time_s > made.tips[23].time_s; });
    const auto seen = observe_collect(made.tips, 3, 23, made.weights, bucket(), bench);
    REQUIRE_FALSE(seen.ok());
    CHECK(seen.fault().code == FaultCode::too_few_points);
    CHECK_FALSE(observe_collect(made.tips, 5, 5, made.weights, bucket(), bench).ok());
    CHECK_FALSE(observe_collect(made.tips, 5, 99, made.weights, bucket(), bench).ok());
}

TEST_CASE("a siphon's collect is weighed in its pauses and scatter comes from whole emptyings") {
    BenchMetrology bench = bench_with_lag();
    Gauge gauge = bucket();
    gauge.inlet = Inlet::siphon;
    gauge.siphon_volume_mL = 12.6;
    // Pairs of tips 2 s apart, then a pause of 10 s; masses wobble by a known pattern.
    Staircase made;
    std::vector<double> mass_g;
    double time_s = 5;
    for (int pair = 0; pair < 14; ++pair) {
        for (int k = 0; k < 2; ++k) {
            time_s += k == 0 ? 10 : 2;
            made.tips.push_back({time_s, {true, false}});
            mass_g.push_back(6.3 + (pair % 2 == 0 ? 0.02 : -0.02));
        }
    }
    for (double t = 0; t < time_s + 30; t += 0.2) {
        double reading = 50;
        for (std::size_t k = 0; k < made.tips.size(); ++k) {
            const double since = t - made.tips[k].time_s - bench.discharge_delay_s;
            if (since > 0) reading += mass_g[k] * (1 - std::exp(-since / bench.discharge_lag_s));
        }
        made.weights.push_back({t, reading});
    }
    const auto seen = observe_collect(made.tips, 1, 25, made.weights, gauge, bench);
    REQUIRE(seen.ok());
    CHECK(seen->weighing == WeighingMethod::plateau);
    CHECK(seen->balance_difference_g == Approx(24 * 6.3).epsilon(2e-4));
    CHECK(seen->scatter.from == "weighed groups");
    CHECK(seen->scatter.dof == 11);
    // Twelve groups of two: each off by 2 x 0.02 g, so 0.04^2/2 per tip, over 11.
    CHECK(seen->scatter.sd_percent == Approx(100 * std::sqrt(12 * 0.0016 / 2 / 11) / 6.3).epsilon(0.02));
}

TEST_CASE("a pause just as long as a siphon's emptyings need to be weighed in is long enough") {
    BenchMetrology bench;
    bench.discharge_delay_s = 0;
    bench.discharge_lag_s = 0.5;
    bench.discharge_delay_s = 3 - siphon_pause_s(bench);
    Gauge gauge = bucket();
    gauge.inlet = Inlet::siphon;
    gauge.siphon_volume_mL = 12.6;
    const double pause_s = siphon_pause_s(bench);
    REQUIRE(pause_s == 3);  // so that no time below is rounded
    for (const double shorter_s : {0.0, 0x1p-20}) {
        Staircase made;
        made.tips.push_back({-2, {true, false}});
        double time_s = 0;
        for (int pair = 0; pair < 14; ++pair) {
            made.tips.push_back({time_s, {true, false}});
            time_s += pause_s - shorter_s;
            made.tips.push_back({time_s, {true, false}});
            time_s += 2;
        }
        for (double t = -5; t < time_s + 30; t += 0.125) {
            double reading = 50;
            for (const Tip& tip : made.tips)
                if (t > tip.time_s + bench.discharge_delay_s) reading += 6.3;
            made.weights.push_back({t, reading});
        }
        const auto seen = observe_collect(made.tips, 1, 25, made.weights, gauge, bench);
        REQUIRE(seen.ok());
        CHECK(seen->scatter.from == (shorter_s > 0 ? "intervals" : "weighed groups"));
    }
}

TEST_CASE("a slower balance needs a longer pause to be weighed in, in proportion to its lag") {
    BenchMetrology bench = bench_with_lag();
    const auto pause_s = [&](double lag_s) {
        bench.discharge_lag_s = lag_s;
        return siphon_pause_s(bench);
    };
    CHECK(pause_s(2) > pause_s(1));
    CHECK(pause_s(3) - pause_s(2) == Approx(pause_s(2) - pause_s(1)));
    CHECK(pause_s(1) - pause_s(0.5) == Approx((pause_s(2) - pause_s(1)) / 2));
}

// Emptyings of five tips: the interval to a tip of A lasts 2.1 s, to one of B 1.9 s; pauses of 20 s, whose
// interval says nothing. Ten emptyings turn which compartment opens one.
TEST_CASE(
    "within a siphon's emptyings the intervals tell the compartments apart, with their degrees of freedom") {
    BenchMetrology bench = bench_with_lag();
    Gauge gauge = bucket();
    gauge.inlet = Inlet::siphon;
    gauge.siphon_volume_mL = 31;
    gauge.compartments = 2;
    Staircase made;
    double time_s = 5;
    for (std::size_t k = 0; k < 50; ++k) {
        // A known pattern of +-0.02 s about each side's mean.
        const double wobble_s = (k / 2) % 2 == 0 ? 0.02 : -0.02;
        time_s += k % 5 == 0 ? 20 : (k % 2 == 0 ? 2.1 : 1.9) + wobble_s;
        made.tips.push_back({time_s, {true, false}});
    }
    for (double t = 0; t < time_s + 30; t += 0.2) {
        double reading = 50;
        for (const Tip& tip : made.tips) {
            const double since = t - tip.time_s - bench.discharge_delay_s;
            if (since > 0) reading += 6.2 * (1 - std::exp(-since / bench.discharge_lag_s));
        }
        made.weights.push_back({t, reading});
    }
    const auto seen = observe_collect(made.tips, 4, 49, made.weights, gauge, bench);
    REQUIRE(seen);
    REQUIRE(seen->compartments);
    // 45 intervals, nine of them pauses.
    CHECK(seen->compartments->dof == 45 - 9 - 2);
    CHECK(std::abs(seen->compartments->a_excess_percent) == Approx(5).margin(0.2));
    // A difference of two means of 18, each value off by 0.02 s; half of it, relative to the mean of 2 s.
    CHECK(seen->compartments->u_percent == Approx(100 * 0.02 * std::sqrt(2.0 / 18) / 4).epsilon(0.1));
}

TEST_CASE("edges become tips: bounce, two contacts, a missed closure") {
    Gauge gauge = bucket();
    gauge.contacts = {{false}, {true}};
    gauge.debounce_s = 0.1;
    TipCollector tips(gauge);
    CHECK(tips.push(1, true, 1.000));
    CHECK_FALSE(tips.push(1, false, 1.002));
    CHECK_FALSE(tips.push(1, true, 1.003));   // bounce
    CHECK_FALSE(tips.push(2, false, 1.006));  // normally closed: opening is the tip
    CHECK_FALSE(tips.push(1, false, 1.080));
    CHECK_FALSE(tips.push(2, true, 1.090));
    CHECK(tips.push(2, false, 5.0));  // contact 1 missed this one
    CHECK(tips.push(1, true, 9.0));
    CHECK_FALSE(tips.push(3, true, 9.5));  // no such contact
    REQUIRE(tips.tips().size() == 3);
    CHECK(tips.bounces() == 1);
    CHECK(tips.count(1, 0, 2) == 2);
    CHECK(tips.count(2, 0, 2) == 2);
    CHECK(tips.tips()[1].time_s == 5.0);
}
