#include "calib/tips/tip_checks.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/calib/synthetic_tips.hpp"

using namespace tipwright::calib;
using namespace tipwright::calib::synthetic;

namespace {

// Reduced version of tests/figures/detector_figures.cpp: at most three standard deviations above the stated
// rate.
constexpr int tip_cases = 1500;
constexpr double tip_alpha = 0.01;
const int tip_alarms_at_most = static_cast<int>(tip_cases * tip_alpha + 3 * std::sqrt(tip_cases * tip_alpha));

bool names(const std::vector<Finding>& findings, FindingKind kind) {
    for (const Finding& finding : findings)
        if (finding.kind() == kind) return true;
    return false;
}

TipSeries steady(int tips) {
    TipSeries series;
    for (int k = 0; k < tips; ++k) {
        series.interval_s.push_back(10 + (k % 2 == 0 ? 0.2 : -0.2) + 0.03 * ((k * 7) % 5 - 2));
        series.mass_g.push_back(std::nan(""));
    }
    return series;
}

}  // namespace

TEST_CASE("phantom tips are named by the intervals") {
    TipSeries series = steady(20);
    CHECK(check_phantom_tips(series).empty());
    series.interval_s[8] = 3;
    series.interval_s.insert(series.interval_s.begin() + 9, 7.1);
    const auto findings = check_phantom_tips(series);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].id == FindingId::phantom_timed);
    CHECK(findings[0].number("count") == 2);
    CHECK(findings[0].number("tips") == 21);
    CHECK(findings[0].tips == std::vector<std::size_t>{9, 10});
    CHECK(findings[0].statistic > findings[0].threshold);
    series.regular = false;
    CHECK(check_phantom_tips(series).empty());
    CHECK(check_phantom_tips(steady(7)).empty());
}

TEST_CASE("phantom tips are named by weighing") {
    TipSeries series = steady(20);
    for (std::size_t k = 0; k < 20; ++k) series.mass_g[k] = 6.2 + 0.01 * static_cast<double>(k % 3);
    CHECK(check_phantom_tips(series).empty());
    series.mass_g[5] = 0.01;
    const auto findings = check_phantom_tips(series);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].tips == std::vector<std::size_t>{6});
    CHECK(findings[0].id == FindingId::phantom_weighed);
    CHECK(findings[0].number("count") == 1);
}

TEST_CASE("a false tip in a siphon's pause is named by weighing, real tips in bunches are not") {
    TipSeries series;
    series.regular = false;
    series.nominal_mL = 6.28;
    for (int emptying = 0; emptying < 6; ++emptying) {
        // Only the last tip of a bunch is followed by a pause, none is preceded and followed by one.
        for (const double interval_s : {60.0, 1.4}) {
            series.interval_s.push_back(interval_s);
            series.mass_g.push_back(std::nan(""));
        }
    }
    CHECK(check_phantom_tips(series).empty());
    series.interval_s[6] = 40;
    series.interval_s.insert(series.interval_s.begin() + 6, 20);
    series.mass_g.insert(series.mass_g.begin() + 6, 0.02);
    const auto findings = check_phantom_tips(series);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].tips == std::vector<std::size_t>{7});
    series.mass_g[6] = 5.4;
    CHECK(check_phantom_tips(series).empty());
}

TEST_CASE("phantom tips are named even when most tips are false") {
    TipSeries series;
    series.compartments = 1;
    series.nominal_mL = 2;
    series.flow_mL_s = 0.05;
    for (int k = 0; k < 30; ++k) {
        series.interval_s.push_back(k % 3 == 2 ? 36 : 2);  // 40 s a tip, two closures in between
        series.mass_g.push_back(std::nan(""));
    }
    const auto findings = check_phantom_tips(series);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].id == FindingId::phantom_timed);
    CHECK(findings[0].number("count") == 20);
    series.nominal_mL = 0;
    CHECK(check_phantom_tips(series).size() <= 1);
}

TEST_CASE("commanded changes of the flow are no phantom tips and no blocked funnel") {
    TipSeries series = steady(30);
    for (std::size_t k = 0; k < 30; ++k) {
        series.flow.push_back(k < 24 ? 1.0 : 2.0);
        if (k >= 24) series.interval_s[k] /= 2;
    }
    CHECK(check_phantom_tips(series).empty());
    // A flow that the pump was told to lower by a third over the collect.
    series = steady(30);
    for (std::size_t k = 0; k < 30; ++k) {
        series.flow.push_back(1 - 0.01 * static_cast<double>(k));
        series.interval_s[k] /= series.flow[k];
    }
    CHECK_FALSE(check_funnel_trend(series));
    series.flow.clear();
    const auto finding = check_funnel_trend(series);
    REQUIRE(finding);
    CHECK(finding->kind() == FindingKind::blocked_funnel);
    CHECK(finding->id == FindingId::funnel_slows);
    CHECK(*finding->number("percent") == Approx(42.6).margin(0.05));
}

TEST_CASE("a missed closure of a single contact shows as the water of two tips") {
    TipSeries series = steady(20);
    series.interval_s[8] += series.interval_s[9];
    series.interval_s.erase(series.interval_s.begin() + 9);
    const auto findings = check_phantom_tips(series);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].kind() == FindingKind::missed_closure);
    CHECK(findings[0].id == FindingId::missed_timed);
    CHECK(findings[0].number("tips") == 19);
}

TEST_CASE("a bucket with one side that is not counted is named by its volume") {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    CHECK_FALSE(check_dead_compartment(6.28, std::nullopt, gauge));
    CHECK_FALSE(check_dead_compartment(6.28 + 0.45 * 4, 4.0, gauge));
    const auto finding = check_dead_compartment(12.5, 0.1, gauge);
    REQUIRE(finding);
    CHECK(finding->kind() == FindingKind::dead_compartment);
    CHECK(*finding->number("ratio") == Approx(1.98).margin(0.005));
    gauge.compartments = 1;
    CHECK_FALSE(check_dead_compartment(12.5, 0.1, gauge));
}

TEST_CASE("compartments are named only when they differ by more than allowed, beyond doubt") {
    CHECK_FALSE(check_compartments({2.6, 0.2, 18}));
    CHECK_FALSE(check_compartments({4.0, 1.0, 18}));
    const auto finding = check_compartments({-4.0, 0.2, 18});
    REQUIRE(finding);
    CHECK(finding->id == FindingId::compartment_b_larger);
    // 1.04 over 0.96.
    CHECK(*finding->number("percent") == Approx(100 * (1.04 / 0.96 - 1)));
    // 5.015 mL and 2.915 mL: 72 % more, though only 53 % of their mean.
    const auto far = check_compartments({100 * (5.015 - 2.915) / (5.015 + 2.915), 0.2, 18});
    REQUIRE(far);
    CHECK(far->id == FindingId::compartment_a_larger);
    CHECK(*far->number("percent") == Approx(100 * (5.015 / 2.915 - 1)));
    CHECK_FALSE(check_compartments({-4.0, 0, 0}));
}

TEST_CASE("evaporation that drifts or is not as stated is named") {
    std::vector<LossPoint> losses;
    for (int k = 0; k < 12; ++k) losses.push_back({300.0 * k, 0.15 + 0.005 * ((k * 5) % 3 - 1), 0.01});
    CHECK(check_evaporation(losses, {0.15, 0.02, infinite_dof}).empty());
    const auto other = check_evaporation(losses, {0.5, 0.02, infinite_dof});
    REQUIRE(other.size() == 1);
    CHECK(other[0].id == FindingId::evaporation_level);
    CHECK(*other[0].number("loss_g_h") == Approx(0.15).margin(0.005));
    CHECK(*other[0].number("stated_g_h") == Approx(0.5));
    for (int k = 0; k < 12; ++k) losses[static_cast<std::size_t>(k)].loss_g_h += 0.03 * k;
    const auto drift = check_evaporation(losses, {0.31, 0.05, infinite_dof});
    REQUIRE(drift.size() == 1);
    CHECK(drift[0].id == FindingId::evaporation_drift);
    CHECK(*drift[0].number("change_g_h") == Approx(0.33).margin(0.005));
    CHECK(check_evaporation(std::vector<LossPoint>(losses.begin(), losses.begin() + 4), {0.3, 0.02, 9})
              .empty());
}

TEST_CASE("tips and weights become a series, and plateaus show the loss of the vessel") {
    BenchMetrology bench;
    bench.discharge_delay_s = 0.4;
    bench.discharge_lag_s = 0.8;
    bench.balance.repeatability_g = 0.006;
    Gauge gauge;
    gauge.contacts.resize(1);
    std::vector<Tip> tips;
    for (int k = 0; k < 12; ++k) tips.push_back({120.0 * (k + 1), {true, false}});
    std::vector<WeightPoint> weights;
    Dice dice(3);
    // 6 g fall at each tip, 0.36 g/h evaporate; the display shows hundredths.
    for (double time_s = 0; time_s < 1500; time_s += 0.2) {
        const double fallen_g = 6 * std::floor(time_s / 120);
        const double shown_g = fallen_g - 0.36 * time_s / 3600 + dice.normal(0, 0.006);
        weights.push_back({time_s, std::round(shown_g * 100) / 100});
    }
    const TipSeries series = series_of(tips, 0, 11, weights, gauge, bench);
    REQUIRE(series.interval_s.size() == 11);
    REQUIRE(series.mass_g.size() == 11);
    for (std::size_t k = 0; k < 10; ++k) {
        CHECK(series.interval_s[k] == Approx(120));
        CHECK(series.mass_g[k] == Approx(6 - 0.012).margin(0.005));
    }
    const auto losses = losses_between_tips(tips, weights, bench);
    REQUIRE(losses.size() == 11);
    double mean = 0;
    for (const LossPoint& loss : losses) mean += loss.loss_g_h / 11;
    CHECK(mean == Approx(0.36).margin(0.04));
    CHECK(check_evaporation(losses, {0.36, 0.05, 9}).empty());
}

TEST_CASE("a plateau of ten readings tells what the vessel loses, one of nine does not") {
    BenchMetrology bench;
    bench.discharge_delay_s = 0.4;
    bench.discharge_lag_s = 0.8;
    const std::vector<Tip> tips{{0, {true, false}}, {3600, {true, false}}};
    const auto losses = [&](int readings) {
        std::vector<WeightPoint> weights;
        // 0.36 g/h, on the plateau alone.
        for (int i = 0; i < readings; ++i)
            weights.push_back({100.0 + 30 * i, 50 - 0.36 * (100.0 + 30 * i) / 3600});
        return losses_between_tips(tips, weights, bench);
    };
    REQUIRE(losses(10).size() == 1);
    CHECK(losses(10)[0].loss_g_h == Approx(0.36));
    CHECK(losses(9).empty());
}

TEST_CASE("a loss that is hardly known outweighs no well-known one") {
    std::vector<LossPoint> losses;
    for (int i = 0; i < 6; ++i) losses.push_back({3600.0 * i, 0.36 + (i % 2 == 0 ? 0.002 : -0.002), 0.02});
    CHECK(check_evaporation(losses, {0.36, 0.05, 9}).empty());
    // Between quick tips the plateaus are short.
    for (int i = 6; i < 9; ++i) losses.push_back({3600.0 * i, 4.0, 20});
    CHECK(check_evaporation(losses, {0.36, 0.05, 9}).empty());
    for (LossPoint& loss : losses) loss.loss_g_h += 3;
    CHECK(names(check_evaporation(losses, {0.36, 0.05, 9}), FindingKind::drifting_evaporation));
}

TEST_CASE("sound collects give no more false alarms than stated") {
    Dice dice(7);
    int phantom_weighed = 0;
    int phantom = 0;
    int funnel = 0;
    int compartments = 0;
    int evaporation = 0;
    for (int i = 0; i < tip_cases; ++i) {
        phantom_weighed += check_phantom_tips(ordinary_collect(dice, true).series, tip_alpha).empty() ? 0 : 1;
        const Collect collect = ordinary_collect(dice, false);
        phantom += check_phantom_tips(collect.series, tip_alpha).empty() ? 0 : 1;
        funnel += check_funnel_trend(collect.series, 0, tip_alpha) ? 1 : 0;
        if (collect.series.compartments == 2) {
            const auto balance = balance_from_intervals(collect.series.interval_s, true);
            compartments += check_compartments(*balance, 100 * std::abs(collect.excess), tip_alpha) ? 1 : 0;
        }
        const double loss = dice.normal(0.15, 0.02);
        evaporation +=
            check_evaporation(losses(dice, loss, loss), {0.15, 0.02, infinite_dof}, 0, tip_alpha).empty() ? 0
                                                                                                          : 1;
    }
    CHECK(phantom_weighed <= tip_alarms_at_most);
    CHECK(phantom <= tip_alarms_at_most);
    CHECK(funnel <= tip_alarms_at_most);
    CHECK(compartments <= tip_alarms_at_most);
    CHECK(evaporation <= tip_alarms_at_most);
    // With nothing allowed the t-tests reach their rate: they do speak.
    CHECK(funnel > 0);
    CHECK(compartments > 0);
    CHECK(evaporation > 0);
}

TEST_CASE("faulty collects are recognised") {
    Dice dice(8);
    int phantom = 0;
    int early = 0;
    int lost = 0;
    int blocked = 0;
    for (int i = 0; i < tip_cases; ++i) {
        Collect one = ordinary_collect(dice, i % 2 == 0);
        add_phantom_closure(one, dice);
        phantom += names(check_phantom_tips(one.series), FindingKind::phantom_tips) ? 1 : 0;
        Collect two = ordinary_collect(dice, i % 2 == 0);
        add_early_tip(two, dice);
        early += names(check_phantom_tips(two.series), FindingKind::phantom_tips) ? 1 : 0;
        Collect three = ordinary_collect(dice, i % 2 == 0);
        lose_closure(three, dice);
        lost += names(check_phantom_tips(three.series), FindingKind::missed_closure) ? 1 : 0;
        Collect four = ordinary_collect(dice, false);
        block_funnel(four, 0.9);
        blocked += check_funnel_trend(four.series) ? 1 : 0;
    }
    CHECK(phantom >= tip_cases * 99 / 100);
    CHECK(early >= tip_cases * 99 / 100);
    CHECK(lost >= tip_cases * 99 / 100);
    CHECK(blocked >= tip_cases * 99 / 100);
}
