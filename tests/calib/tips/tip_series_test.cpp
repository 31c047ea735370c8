#include "calib/tips/tip_series.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/tips/tip_checks.hpp"
#include "tests/calib/synthetic_tips.hpp"

using namespace tipwright::calib;
using synthetic::Dice;

namespace {

struct Bunches {
    std::vector<Tip> tips;  // what the contact tells
    std::vector<WeightPoint> weights;
    std::size_t opening = 0;
    std::size_t closing = 0;
    int false_tips = 0;
};

Gauge siphon_gauge() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    gauge.inlet = Inlet::siphon;
    gauge.siphon_volume_mL = 15;
    gauge.contacts.resize(1);
    return gauge;
}

BenchMetrology bench_of(double lag_s) {
    BenchMetrology bench;
    bench.discharge_lag_s = lag_s;
    bench.discharge_delay_s = 0.4;
    bench.balance.repeatability_g = 0.008;
    return bench;
}

// Bunches of two to six tips 1.9 s apart with 6 to 20 s between them; each tip's 6.2 g reach the balance
// through drain and filter. True times stay apart from what the contact tells.
Bunches bunches(Dice& dice, int emptyings, int false_closures, double lag_s, double pause_from_s = 6) {
    std::vector<double> true_s;
    std::vector<std::size_t> ends;
    double time_s = 20;
    for (int emptying = 0; emptying <= emptyings; ++emptying) {
        for (int tip = emptying == 0 ? 1 : dice.whole(2, 6); tip > 0; --tip) {
            true_s.push_back(time_s);
            time_s += 1.9 * dice.normal(1, 0.01);
        }
        ends.push_back(true_s.size() - 1);
        time_s += dice.uniform(pause_from_s, 20);
    }
    Bunches out;
    std::vector<double> told_s = true_s;
    for (int k = 0; k < false_closures; ++k) {
        // A closure within the debounce of a real one is no tip of its own.
        double at_s = 0;
        const auto near = [&](double tip_s) { return std::abs(tip_s - at_s) < 0.3; };
        do {
            at_s = dice.uniform(true_s.front() + 0.3, true_s.back() - 0.3);
        } while (std::any_of(told_s.begin(), told_s.end(), near));
        told_s.push_back(at_s);
    }
    std::sort(told_s.begin(), told_s.end());
    for (const double at_s : told_s) out.tips.push_back({at_s, {true, false}});
    out.closing = out.tips.size() - 1;
    std::vector<double> water_g;
    for (std::size_t k = 0; k < true_s.size(); ++k) water_g.push_back(6.2 * dice.normal(1, 0.004));
    for (const std::size_t end : ends) water_g[end] *= 0.85;
    for (double at_s = 10; at_s < true_s.back() + 15; at_s += 0.2) {
        double mass_g = 100 + dice.normal(0, 0.008);
        for (std::size_t k = 0; k < true_s.size(); ++k) {
            const double since_s = at_s - true_s[k] - 0.4;
            if (since_s > 0) mass_g += water_g[k] * (1 - std::exp(-since_s / lag_s));
        }
        out.weights.push_back({at_s, mass_g});
    }
    return out;
}

TipSeries series(const Bunches& seen, double lag_s) {
    return series_of(seen.tips, seen.opening, seen.closing, seen.weights, siphon_gauge(), bench_of(lag_s));
}

bool phantoms(const std::vector<Finding>& findings) {
    return std::any_of(findings.begin(), findings.end(),
                       [](const Finding& finding) { return finding.kind() == FindingKind::phantom_tips; });
}

}  // namespace

TEST_CASE("the water of a siphon's tips is worked out while it still arrives") {
    Dice dice(7);
    const Bunches seen = bunches(dice, 6, 0, 0.8);
    const TipSeries tips = series(seen, 0.8);
    REQUIRE(tips.mass_g.size() == seen.closing);
    double sum_g = 0;
    for (const double mass_g : tips.mass_g) {
        CHECK(mass_g > 0.8 * 6.2);
        CHECK(mass_g < 1.05 * 6.2);
        sum_g += mass_g;
    }
    // Nothing is lost or doubled on the way.
    CHECK(sum_g == Approx(seen.weights.back().mass_g - 100 - 6.2 * 0.85).epsilon(0.005));
    CHECK(check_phantom_tips(tips).empty());
}

TEST_CASE("the drain may lag by a quarter more or less than the bench states") {
    Dice dice(8);
    for (const double really_s : {0.6, 1.0}) {
        for (int k = 0; k < 50; ++k)
            CHECK(check_phantom_tips(series(bunches(dice, 6, 0, really_s), 0.8)).empty());
    }
}

TEST_CASE("false tips of a siphon gauge are named wherever they fall") {
    Dice dice(9);
    int missed = 0;
    int alarms = 0;
    constexpr int cases = 500;
    for (int k = 0; k < cases; ++k) {
        alarms += check_phantom_tips(series(bunches(dice, 6, 0, 0.8), 0.8)).empty() ? 0 : 1;
        const auto seen = series(bunches(dice, 6, 1 + k % 3, 0.8), 0.8);
        missed += phantoms(check_phantom_tips(seen)) ? 0 : 1;
    }
    CHECK(alarms <= 2);
    CHECK(missed <= cases / 50);
}

TEST_CASE("a weight that changes in a siphon's pause is told, one that stays is not") {
    Dice dice(10);
    const BenchMetrology bench = bench_of(0.8);
    for (const double change_g : {0.0, 0.5, -0.5}) {
        Bunches seen = bunches(dice, 6, 0, 0.8, 12);
        // In the longest pause, away from its ends.
        std::size_t before = 1;
        for (std::size_t k = 1; k + 1 < seen.tips.size(); ++k)
            if (seen.tips[k + 1].time_s - seen.tips[k].time_s >
                seen.tips[before + 1].time_s - seen.tips[before].time_s)
                before = k;
        const double at_s = seen.tips[before + 1].time_s - 2;
        for (WeightPoint& point : seen.weights)
            if (point.time_s > at_s) point.mass_g += change_g;
        const auto finding = check_balance_disturbance(series(seen, 0.8), bench.balance, 150);
        REQUIRE(finding.has_value() == (change_g != 0));
        if (!finding) continue;
        CHECK(finding->kind() == FindingKind::disturbed_balance);
        CHECK(finding->tips == std::vector<std::size_t>{before});
        CHECK((*finding->number("change_g") > 0) == (change_g > 0));
        CHECK(finding->statistic > finding->threshold);
    }
}

TEST_CASE("a siphon's pause is looked at for changes from two windows of half a second on") {
    // A balance that rises by 1 g/s all the time tells how far apart the two looks are.
    std::vector<WeightPoint> weights;
    for (int i = 0; i < 12000; ++i) weights.push_back({0.01 * i, 0.01 * i});
    const auto change_g = [&](double pause_s) {
        const std::vector<Tip> tips{
            {10, {true, false}}, {20, {true, false}}, {20 + pause_s, {true, false}}, {100, {true, false}}};
        return series_of(tips, 0, 3, weights, siphon_gauge(), bench_of(0.8)).pause_change_g[0];
    };
    double shortest_s = 0;
    for (double pause_s = 1; pause_s < 40 && shortest_s == 0; pause_s += 0.01)
        if (std::isfinite(change_g(pause_s))) shortest_s = pause_s;
    REQUIRE(shortest_s > 1);
    CHECK(change_g(shortest_s) == Approx(0.5).margin(0.03));
    CHECK(change_g(shortest_s + 3) == Approx(3.5).margin(0.03));
}

TEST_CASE("a weight that changes between regular tips is told by the water that fits no interval") {
    Dice dice(11);
    const BalanceMetrology balance;
    int alarms = 0;
    int missed = 0;
    constexpr int cases = 500;
    for (int k = 0; k < cases; ++k) {
        synthetic::Collect collect = synthetic::ordinary_collect(dice, true);
        std::vector<double>& mass_g = collect.series.mass_g;
        // What the balance adds in steady flow stands in for tips too fast to weigh singly.
        if (!std::isfinite(mass_g[0])) collect.series.rise_g = collect.series.interval_s;
        for (std::size_t j = 0; j < collect.series.rise_g.size(); ++j)
            collect.series.rise_g[j] *= collect.tip_g / collect.mean_interval_s * (1 + dice.normal(0, 0.003));
        std::vector<double>& water_g = std::isfinite(mass_g[0]) ? mass_g : collect.series.rise_g;
        const double total_g = collect.tip_g * static_cast<double>(water_g.size());
        alarms += check_balance_disturbance(collect.series, balance, total_g, 0.01) ? 1 : 0;
        const double change_g = (k % 2 == 0 ? 1 : -1) * std::max(0.01 * total_g, 0.3);
        water_g[static_cast<std::size_t>(dice.whole(0, static_cast<int>(water_g.size()) - 1))] += change_g;
        const auto finding = check_balance_disturbance(collect.series, balance, total_g, 0.01);
        missed += finding ? 0 : 1;
        if (finding) CHECK(finding->id == FindingId::balance_disturbed);
    }
    CHECK(alarms <= 12);
    CHECK(missed <= 5);
}
