#include "calib/rain/tip_pace.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

using namespace tipwright::calib;

namespace {

constexpr double tip_mm = 0.2;
constexpr double lag_s = 1.5;

// Second by second, mm/h, as the funnel hands it on.
std::vector<double> through_funnel(std::vector<double> rain) {
    const double keeps = std::exp(-1 / lag_s);
    double level = 0;
    for (double& one : rain) one = level = keeps * level + (1 - keeps) * one;
    return rain;
}

// 48 showers of 2048 s, each of its own mean; within it a cascade of eleven halvings down to the second,
// weights (1 +- w)/2 with w rectangular within burst; from `finest_s` down it is steady.
std::vector<double> showers(double mean_mm_h, double burst, double finest_s, unsigned seed) {
    std::mt19937_64 dice(seed);
    std::uniform_real_distribution<double> even(-1, 1);
    std::exponential_distribution<double> shower(1 / mean_mm_h);
    std::vector<double> out;
    for (int i = 0; i < 48; ++i) {
        std::vector<double> rates{std::max(shower(dice), mean_mm_h / 10)};
        for (int level = 0; level < 11; ++level) {
            const bool steady = 2048 >> (level + 1) < finest_s;
            std::vector<double> finer;
            for (const double rate : rates) {
                const double w = steady ? 0 : burst * even(dice);
                finer.push_back(rate * (1 + w));
                finer.push_back(rate * (1 - w));
            }
            rates.swap(finer);
        }
        out.insert(out.end(), rates.begin(), rates.end());
    }
    return through_funnel(out);
}

struct Told {
    PaceRange range;  // mean over the intervals, by what the bucket misses
    double truth = 1;
    double seen_s = 0;  // their mean
};

// Truth: what a tip misses goes with the rate at its time, which is the mean weighted by the water; against
// the rate over its interval.
Told told_by(const std::vector<double>& rain, double longest_s) {
    std::vector<double> times, rates;
    double held = 0;
    for (std::size_t i = 0; i < rain.size(); ++i) {
        const double in = rain[i] / 3600;
        while (held + in >= tip_mm * static_cast<double>(times.size() + 1)) {
            times.push_back(static_cast<double>(i) +
                            (tip_mm * static_cast<double>(times.size() + 1) - held) / in);
            rates.push_back(rain[i]);
        }
        held += in;
    }
    TipPace pace({}, 1, 0);
    for (std::size_t i = 1; i < times.size(); ++i) {
        const double interval_s = times[i] - times[i - 1];
        if (interval_s <= longest_s)
            pace.take(interval_s);
        else
            pace.part();
    }
    Told out;
    double low = 0, high = 0, at_tips = 0, over = 0, time = 0, tips = 0;
    for (std::size_t i = 1; i < times.size(); ++i) {
        const double interval_s = times[i] - times[i - 1];
        if (interval_s > longest_s) continue;
        const double rate = 3600 * tip_mm / interval_s;
        const PaceRange range = pace.within(interval_s);
        low += rate * range.low;
        high += rate * range.high;
        over += rate;
        at_tips += rates[i];
        time += interval_s;
        tips += 1;
    }
    out.range = {low / over, high / over};
    out.truth = at_tips / over;
    out.seen_s = time / tips;
    return out;
}

}  // namespace

TEST_CASE("tip pace: rain that scales down to the second, in drizzle and cloudbursts", "[rain]") {
    for (const double burst : {0.3, 0.45, 0.6})
        for (const double mean_mm_h : {3.0, 10.0, 40.0})
            for (const unsigned seed : {1u, 2u, 3u}) {
                const Told told = told_by(showers(mean_mm_h, burst, 1, seed), 1800);
                INFO("burst " << burst << ", " << mean_mm_h << " mm/h, seed " << seed << ": truth "
                              << told.truth << ", told " << told.range.low << " to " << told.range.high);
                // What single tips happen to meet scatters about it by some per cent.
                CHECK(told.truth > told.range.low - 0.03);
                CHECK(told.truth < told.range.high + 0.03);
                if (mean_mm_h > 20) CHECK(told.range.high - told.range.low < 0.3);
            }
}

// Bursts as strong, from one minute or two to the next; steady for a minute at a time.
TEST_CASE("tip pace: rain that is steady below minutes is seen to be so where tips are close", "[rain]") {
    for (const double mean_mm_h : {3.0, 10.0, 40.0})
        for (const unsigned seed : {1u, 2u, 3u}) {
            const Told told = told_by(showers(mean_mm_h, 0.6, 64, seed), 1800);
            INFO(mean_mm_h << " mm/h, seed " << seed << ": truth " << told.truth << ", told "
                           << told.range.low << " to " << told.range.high << " over " << told.seen_s << " s");
            CHECK(told.truth > told.range.low - 0.03);
            CHECK(told.truth < told.range.high + 0.03);
        }
    const Told close = told_by(showers(60, 0.6, 64, 7), 1800);
    CHECK(close.range.middle() == Approx(close.truth).margin(0.03));
}

TEST_CASE("tip pace: what no tip can tell lies between steady and as before", "[rain]") {
    TipPace nothing({}, 1, 0);
    CHECK(nothing.within(48).low == 1);
    // Five octaves of the growth taken for possible at first.
    CHECK(nothing.within(48).high == Approx(std::pow(1.2, 5)));
    CHECK(nothing.within(1).high == 1);
    CHECK(nothing.within(2 * 86400).high == 1);

    // Intervals of a minute and of two in turn: growth -ln(4 (1/3) (2/3)) where two together take 180 s.
    TipPace minutes({}, 1, 0);
    for (int i = 0; i < 4000; ++i) minutes.take(i % 2 == 0 ? 60 : 120);
    const double growth = -std::log(8.0 / 9);
    const double octave = minutes.within(192).high / minutes.within(96).high;
    CHECK(octave > 1 + growth);
    CHECK(octave < 1 + 1.3 * growth);
    CHECK(minutes.within(192).low / minutes.within(96).low > 1 + 0.7 * growth);
    // Below it may be steady, or go on.
    CHECK(minutes.within(48).low == 1);
    CHECK(minutes.within(48).high > std::pow(1 + growth, 5));

    // The same rates, a tip in 1 s or in 2 s, counted by the minute: stretches as long as each other, of many
    // tips and of few.
    TipPace counted({0, 0, 0, true}, 4, 0);
    for (int i = 0; i < 4000; ++i) counted.take(60, i % 2 == 0 ? 60 : 30);
    const double of_counts = counted.within(96).middle() / counted.within(48).middle();
    CHECK(of_counts > 1 + 0.5 * growth);
    CHECK(of_counts < 1 + 1.3 * growth);
    // A tip more or less at the ends of a count is no rain.
    TipPace few({0, 0, 0, true}, 4, 0);
    double share = 0;
    for (int i = 0; i < 4000; ++i) {
        share += 4.3 + 0.618;
        few.take(60, static_cast<int>(share));
        share -= std::floor(share);
    }
    CHECK(few.within(240).high < 1.05);

    // The tips' own scatter is no rain.
    std::mt19937_64 dice(4);
    std::normal_distribution<double> normal(1, 0.03);
    TipPace scatters({0.03, 0.02}, 1, 0), blind({}, 1, 0);
    for (int i = 0; i < 4000; ++i) {
        const double interval_s = 12 * (normal(dice) + (i % 2 == 0 ? 0.02 : -0.02));
        scatters.take(interval_s);
        blind.take(interval_s);
    }
    CHECK(blind.within(12).high > 1.001);
    CHECK(scatters.within(12).high - 1 < 0.3 * (blind.within(12).high - 1));
}
