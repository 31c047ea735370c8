#include "calib/tips/shift_checks.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "calib/statistics/distributions.hpp"
#include "tests/calib/synthetic_tips.hpp"

using namespace tipwright::calib;
using namespace tipwright::calib::synthetic;

namespace {

constexpr int shift_cases = 2000;
constexpr double shift_alpha = 0.01;
const int shift_alarms_at_most =
    static_cast<int>(shift_cases * shift_alpha + 3 * std::sqrt(shift_cases * shift_alpha));

// A bucket in steady flow: sides 1.2 % off their mean, tips scatter by 0.5 %; from tip `from` on A holds
// `larger` more. The pump slows down by `wear` from the first tip to the last.
TipSeries bucket(int tips, Dice& dice, int from, double larger, double wear = 0) {
    TipSeries series;
    for (int k = 0; k < tips; ++k) {
        const bool a = k % 2 == 0;
        const double side = a ? 1.012 * (k >= from ? 1 + larger : 1) : 0.988;
        const double water = side * dice.normal(1, 0.005);
        series.interval_s.push_back(10 * water * (1 + wear * k / tips));
        series.mass_g.push_back(4 * water);
        series.rise_g.push_back(4 * water);
    }
    return series;
}

TipSeries spoon(int tips, Dice& dice, int from, double larger) {
    TipSeries series = bucket(tips, dice, tips, 0);
    series.compartments = 1;
    for (std::size_t k = 0; k < series.mass_g.size(); ++k) {
        const double water = (static_cast<int>(k) >= from ? 1 + larger : 1) * dice.normal(1, 0.005);
        series.interval_s[k] = 10 * water;
        series.mass_g[k] = 4 * water;
    }
    return series;
}

}  // namespace

TEST_CASE("a compartment that shifts in the middle of a collect is found from the tips") {
    Dice dice(7);
    const auto findings = check_shift(bucket(30, dice, 14, 0.1));
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].id == FindingId::compartment_shifted);
    CHECK(findings[0].kind() == FindingKind::changed_gauge);
    CHECK(findings[0].number("percent").value() == Approx(9.5).margin(1.2));
    CHECK(findings[0].number("tip").value() == Approx(15).margin(1));
    CHECK(check_shift(bucket(30, dice, 30, 0)).empty());
    CHECK(check_shift(bucket(7, dice, 3, 0.1)).empty());
}

TEST_CASE("a spoon whose volume changes in the middle of a collect is found from the water of its tips") {
    Dice dice(8);
    const auto findings = check_shift(spoon(24, dice, 10, 0.06));
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].id == FindingId::volume_shifted);
    CHECK(findings[0].number("percent").value() == Approx(6).margin(0.8));
    CHECK(findings[0].number("tip").value() == 11);
}

TEST_CASE("shifts: false alarms keep to the stated rate, with a pump that wears too") {
    for (const double wear : {0.0, 0.03}) {
        Dice dice(20260401);
        int alarms = 0;
        for (int i = 0; i < shift_cases; ++i)
            alarms +=
                check_shift(bucket(dice.whole(8, 60), dice, 1000, 0, wear), shift_alpha).empty() ? 0 : 1;
        CHECK(alarms <= shift_alarms_at_most);
    }
    Dice dice(20260402);
    int alarms = 0;
    for (int i = 0; i < shift_cases; ++i)
        alarms += check_shift(spoon(dice.whole(8, 60), dice, 1000, 0), shift_alpha).empty() ? 0 : 1;
    CHECK(alarms <= shift_alarms_at_most);
}

TEST_CASE("shifts: a level change is the two-sample t worked out by hand") {
    // Two-sample t with pooled variance (Student 1908), worked out by hand.
    const double values[] = {1.00, 1.02, 0.99, 1.01, 1.00, 1.10, 1.12, 1.09, 1.11, 1.10};
    const auto found = level_change(values, 1, 0, 0.001);
    REQUIRE(found);
    CHECK(found->at == 5);
    CHECK(found->change == Approx(0.1));
    // Means 1.004 and 1.104, pooled variance 2 * 5.2e-4 / 8.
    CHECK(found->statistic == Approx(0.1 / std::sqrt(1.3e-4 * 0.4)).epsilon(1e-9));
}

TEST_CASE("a gauge that changed between two steps is found from its compartments, a lost tip is not") {
    const auto step = [](double percent) { return HalfDifference{percent * 0.04, 0.004, 18, 4}; };
    const HalfDifference moved[] = {step(1.2), step(1.1), step(6.1), step(6.2)};
    const auto found = shift_between(moved);
    REQUIRE(found);
    CHECK(found->at == 2);
    CHECK(found->percent == Approx(5).margin(0.1));
    // Two means of two steps of 18 degrees of freedom each, all known alike: 72. Three places where it could
    // have changed, either way.
    CHECK(found->threshold == Approx(student_quantile(1 - default_false_alarm_rate / 6, 72)).epsilon(1e-9));
    const HalfDifference steady[] = {step(1.2), step(1.1), step(1.25)};
    CHECK_FALSE(shift_between(steady));
    // A lost tip makes A of B.
    const HalfDifference turned[] = {step(1.2), step(-1.15), step(-1.2)};
    CHECK_FALSE(shift_between(turned));
    CHECK_FALSE(shift_between({}));
    CHECK_FALSE(shift_between(std::vector{step(1)}));
}

// A siphon whose compartment A shifted near the end of its first step, as the virtual one of seed 95 of the
// honesty campaign: the step's mean hardly moved and its scatter hides that.
TEST_CASE("a gauge that changed within a step is found from the scatter of that step") {
    const HalfDifference moved[] = {
        {0.0832, 0.0448, 8, 6.4}, {0.311, 0.0046, 16, 6.59}, {0.319, 0.0040, 26, 6.63}};
    const auto found = shift_between(moved);
    REQUIRE(found);
    CHECK(found->at == 1);
    CHECK(found->percent == Approx(100 * (0.311 - 0.0832) / 6.54).epsilon(0.01));
    // Twice the scatter at another rate is no sign, nor is a step that scatters and stands where the others
    // do.
    const HalfDifference wider[] = {
        {0.305, 0.0100, 8, 6.4}, {0.311, 0.0046, 16, 6.59}, {0.319, 0.0040, 26, 6.63}};
    CHECK_FALSE(shift_between(wider));
    const HalfDifference rough[] = {
        {0.300, 0.0448, 8, 6.4}, {0.311, 0.0046, 16, 6.59}, {0.319, 0.0040, 26, 6.63}};
    CHECK_FALSE(shift_between(rough));
}

TEST_CASE("shifts between steps: false alarms keep to the stated rate, whatever the scatter of a tip") {
    Dice dice(20260403);
    int alarms = 0;
    for (int i = 0; i < shift_cases; ++i) {
        std::vector<HalfDifference> steps;
        const double of_a_tip = dice.uniform(0.01, 0.08);
        for (int k = 0; k < 3; ++k) {
            const int tips = dice.whole(10, 40);
            double sum = 0;
            double squares = 0;
            for (int tip = 0; tip < tips; ++tip) {
                const double value = dice.normal(0.2, of_a_tip);
                sum += value;
                squares += value * value;
            }
            const double mean = sum / tips;
            const double variance = (squares - tips * mean * mean) / (tips - 1);
            steps.push_back({mean, std::sqrt(variance / tips), tips - 1.0, 6.4});
        }
        alarms += shift_between(steps, shift_alpha).has_value() ? 1 : 0;
    }
    CHECK(alarms <= shift_alarms_at_most);
}

namespace {

// From tip `from` on the balance shows `more` of the water; the pump sends `faster`.
TipSeries weighed(TipSeries series, int from, double more, double faster, Dice& dice) {
    for (std::size_t k = 0; k < series.mass_g.size(); ++k) {
        series.interval_s[k] *= dice.normal(1, 0.001);
        if (static_cast<int>(k) < from) continue;
        series.mass_g[k] *= 1 + more;
        series.interval_s[k] /= 1 + faster;
    }
    return series;
}

}  // namespace

TEST_CASE("a balance that shows other water from the middle of a collect on is told from pump and gauge") {
    Dice dice(9);
    for (const bool of_bucket : {true, false}) {
        const auto sound = [&] { return of_bucket ? bucket(24, dice, 24, 0) : spoon(24, dice, 24, 0); };
        int found = 0;
        int pump_blamed_on_balance = 0;
        for (int i = 0; i < 200; ++i) {
            const auto findings = check_shift(weighed(sound(), 11, 0.03, 0, dice));
            found += !findings.empty() && findings[0].id == FindingId::balance_scale ? 1 : 0;
            const auto pump = check_shift(weighed(sound(), 11, 0, 0.03, dice));
            pump_blamed_on_balance +=
                !pump.empty() && pump[0].kind() == FindingKind::disturbed_balance ? 1 : 0;
        }
        CHECK(found >= 195);
        CHECK(pump_blamed_on_balance <= 2);
    }
    const auto gauge = check_shift(weighed(spoon(24, dice, 10, 0.06), 24, 0, 0, dice));
    REQUIRE(gauge.size() == 1);
    CHECK(gauge[0].id == FindingId::volume_shifted);
}
