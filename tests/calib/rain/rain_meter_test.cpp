#include "calib/rain/rain_meter.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "calib/rain/rain_periods.hpp"
#include "calib/rain/tip_feed.hpp"

using namespace tipwright;
using namespace tipwright::calib;

namespace {

constexpr double v0_mL = 6.1, tau_s = 0.45;

DepthCurve curve(double v0 = v0_mL, double tau = tau_s) {
    RateModel model;
    model.chosen = RateForm::line;
    model.flow_min_mL_s = 0.05;
    model.flow_max_mL_s = 2.5;
    RateCandidate fit;
    fit.form = RateForm::line;
    fit.parameters = {{v0, 0.01, infinite_dof}, {tau, 0.008, infinite_dof}};
    fit.covariance = {{1e-4, -4e-5}, {-4e-5, 6.4e-5}};
    model.candidates = {fit};
    Gauge gauge;
    gauge.catch_diameter_mm = {200, 0.15};
    return *DepthCurve::make(model, gauge);
}
double depth(double t) {
    return 10 * v0_mL / (3.14159265358979 * 100) * t / (t - tau_s);
}

struct Out {
    std::vector<RainAmount> amounts;
    RainSigns signs;
    std::vector<RainAmount> of(RainPeriod period) const {
        std::vector<RainAmount> out;
        for (const auto& one : amounts)
            if (one.period == period) out.push_back(one);
        return out;
    }
};

Out run(const std::vector<double>& times, RainSettings settings = {},
        std::vector<RainCalibration> reigns = {}, double siphon_mm = 0) {
    Out out;
    if (reigns.empty()) {
        reigns.resize(1);
        reigns[0].left = curve();
    }
    RainGauge gauge;
    gauge.scatter_relative = 0.004;
    gauge.max_intensity_mm_h = 300;
    gauge.siphon_mm = siphon_mm;
    RainMeter meter(gauge, std::move(reigns), settings,
                    [&](const RainAmount& a) { out.amounts.push_back(a); });
    FeedSettings feed;
    feed.bounce_s = 0.25;
    TipFeed tips(feed, meter);
    for (const double t : times) {
        LogEntry entry;
        entry.time_s = t;
        REQUIRE(tips.take(entry));
    }
    REQUIRE(tips.finish());
    out.signs = meter.signs();
    return out;
}

std::vector<double> steady(double from, double interval, int tips) {
    std::vector<double> out;
    for (int i = 0; i < tips; ++i) out.push_back(from + i * interval);
    return out;
}

}  // namespace

TEST_CASE("rain meter: steady rain gives the depth of its tips, in every period", "[rain]") {
    // 2031-05-04T10:00:00Z
    const double start = 1935655200;
    const Out out = run(steady(start, 12, 301));
    const auto total = out.of(RainPeriod::total).at(0);
    // The first tip counts half, half a tip is left in the bucket at the end.
    CHECK(total.tips == Approx(301));
    // Steady from the first tip on: no burst within intervals is to be guessed at.
    CHECK(total.corrected_mm == Approx(300 * depth(12) + depth(1e9)).epsilon(1e-4));
    CHECK(total.uncorrected_mm == Approx(60.2));
    double minutes = 0, hours = 0;
    for (const auto& one : out.of(RainPeriod::minute)) minutes += one.corrected_mm;
    for (const auto& one : out.of(RainPeriod::hour)) hours += one.corrected_mm;
    CHECK(minutes == Approx(total.corrected_mm));
    CHECK(hours == Approx(total.corrected_mm));
    CHECK(out.of(RainPeriod::day).at(0).corrected_mm == Approx(total.corrected_mm));
    CHECK(out.of(RainPeriod::year).at(0).corrected_mm == Approx(total.corrected_mm));
    CHECK(out.of(RainPeriod::event).size() == 1);
    const auto minute = out.of(RainPeriod::minute).at(20);
    CHECK(minute.corrected_mm * 60 == Approx(3600 * depth(12) / 12).epsilon(1e-3));
}

TEST_CASE("rain meter: what is common grows with the amount, what is not with its root", "[rain]") {
    // The same rate.
    constexpr int tips = 600;
    const auto few = run(steady(0, 30, tips)).of(RainPeriod::total).at(0);
    const auto many = run(steady(0, 30, 100 * tips)).of(RainPeriod::total).at(0);
    CHECK(many.u_common_mm / few.u_common_mm == Approx(100).epsilon(1e-3));
    CHECK(many.u_tips_mm / few.u_tips_mm == Approx(10).epsilon(0.02));
    CHECK(many.u_filling_mm == Approx(few.u_filling_mm));
    // Two ends of a tip each, rectangular: h / sqrt 12 twice.
    CHECK(few.u_filling_mm == Approx(depth(1e9) / std::sqrt(6)).epsilon(1e-6));
    // By hand: V0 and tau with their covariance, and the rim, at 30 s.
    const double h = depth(30);
    const double by_v0 = h / v0_mL, by_tau = h / (30 - tau_s);
    const double one = std::sqrt(by_v0 * by_v0 * 1e-4 + by_tau * by_tau * 6.4e-5 - 2 * by_v0 * by_tau * 4e-5 +
                                 h * h * 0.0015 * 0.0015);
    CHECK(few.u_common_mm == Approx(tips * one).epsilon(2e-3));
}

// How the first tips' intervals share the time: nothing is known before there are two, and steady rain is
// known to be steady from its first interval on, however many of its tips a clock of whole seconds makes a
// mean of.
TEST_CASE("rain meter: how open it is where rain fell between two tips is learnt from intervals side by side",
          "[rain]") {
    const auto openness = [](double interval_s, int tips) {
        std::vector<double> out;
        std::vector<RainCalibration> calibrations(1);
        calibrations[0].left = curve();
        RainSettings settings;
        settings.resolution_s = 1;
        RainMeter meter(
            RainGauge{}, std::move(calibrations), settings, RainMeter::Pieces([&](const rain::Piece& piece) {
                if (piece.is == rain::Piece::Is::water && piece.filling.x1 >= 1 && piece.filling.x0 == 0)
                    out.push_back(piece.filling.openness);
            }));
        for (int k = 0; k < tips; ++k) meter.tip({std::floor(100000 + k * interval_s)});
        meter.finish();
        return out;
    };
    // Shares as if of a gamma process of shape 2: the variance of a share is 1 / (4 (2 * 2 + 1)).
    constexpr double unknown = 1.0 / 3;
    REQUIRE_FALSE(openness(20, 2).empty());
    CHECK(openness(20, 2).front() == Approx(unknown).epsilon(1e-12));
    // Of each pair of twenty that are remembered one part of twenty is forgotten.
    const double left = 1.0 / (4 * 5) * (1 - 1.0 / 20);
    CHECK(openness(20, 3).front() == Approx(1 / ((1 / (4 * left) - 1) / 2 + 1)).epsilon(1e-12));
    // Three or four tips to a mean of ten seconds.
    CHECK(openness(3.3, 600).front() < 0.01);
}

TEST_CASE("rain meter: what fell is told once two thousand tips are in, and no more are held back",
          "[rain]") {
    std::vector<RainCalibration> calibrations(1);
    calibrations[0].left = curve();
    int pieces = 0;
    RainMeter meter(RainGauge{}, std::move(calibrations), {},
                    RainMeter::Pieces([&](const rain::Piece&) { ++pieces; }));
    int tips = 0;
    while (pieces == 0 && tips < 10000) meter.tip({100000 + 20.0 * ++tips});
    CHECK(tips == 2000);
    // From then on each tip tells what fell before it.
    const int told = pieces;
    meter.tip({100000 + 20.0 * ++tips});
    CHECK(pieces == told + 1);
    CHECK(told >= 1999);
}

TEST_CASE("rain meter: a siphon's first emptying fell while the siphon filled", "[rain]") {
    // An emptying every 300 s, of two tips and three in turn, two seconds apart; 12 h apart two such showers.
    std::vector<double> times;
    for (const double start : {100000.0, 150000.0})
        for (int i = 0; i < 20; ++i)
            for (int k = 0; k < 2 + i % 2; ++k) times.push_back(start + 300 * i + 2 * k);
    constexpr double siphon_mm = 0.485;  // two and a half tips
    const Out out = run(times, {}, {}, siphon_mm);
    const auto events = out.of(RainPeriod::event);
    REQUIRE(events.size() == 2);
    for (const auto& event : events) {
        const double first_s = &event == &events[0] ? 100000 : 150000;
        CHECK(event.from_s == Approx(first_s - 300).margin(10));
        CHECK(event.until_s == Approx(first_s + 300 * 19 + 4 + 300).margin(10));
        CHECK(event.tips == Approx(50));
        CHECK(event.beyond_tips == 0);
        // Bursts within the minutes between emptyings are not seen: the middle of what they may be.
        CHECK(event.corrected_mm == Approx(49 * depth(120) + depth(1e9)).epsilon(0.01));
    }
}

TEST_CASE("rain meter: steady rain on a siphon has no bursts, wherever blocks of its tips begin", "[rain]") {
    // 60 mm/h, an emptying every half minute, of two or three tips, 2.43 in the mean.
    constexpr double tips_each = 2.43;
    std::vector<double> times;
    for (int i = 0; i < 60; ++i)
        for (int k = 0; k < std::floor(tips_each * (i + 1)) - std::floor(tips_each * i); ++k)
            times.push_back(100000 + 30 * i + 2 * k);
    const Out out = run(times, {}, {}, 0.485);
    for (const auto period : {RainPeriod::largest_1, RainPeriod::largest_5}) {
        const auto largest = out.of(period).at(0);
        const double minutes = period == RainPeriod::largest_1 ? 1 : 5;
        CHECK(largest.tips == Approx(2 * tips_each * minutes).epsilon(0.1));
    }
    const auto whole = out.of(RainPeriod::minute);
    for (std::size_t i = 2; i + 3 < whole.size(); ++i)
        CHECK(whole[i].tips == Approx(2 * tips_each).epsilon(0.1));
}

TEST_CASE("rain meter: a siphon's lone emptying tells nothing of the rate it fell at", "[rain]") {
    // As fast as the siphon runs; with a straight inlet it was a cloudburst.
    std::vector<double> times;
    for (int i = 0; i < 10; ++i)
        for (int k = 0; k < 3; ++k) times.push_back(100000 + 20000.0 * i + 2 * k);
    const auto total = run(times, {}, {}, 0.485).of(RainPeriod::total).at(0);
    CHECK(total.tips == Approx(30));
    CHECK(total.beyond_tips == 0);
    CHECK(total.corrected_mm == Approx(30 * depth(1e9)).epsilon(3e-4));
    CHECK(run(times).of(RainPeriod::total).at(0).corrected_mm > 1.1 * total.corrected_mm);
}

TEST_CASE("rain meter: bounce, duplicates, a clock set back, isolated tips", "[rain]") {
    std::vector<double> times = steady(0, 20, 10);
    times.insert(times.begin() + 3, 40.01);  // bounce
    times.insert(times.begin() + 5, times[4]);
    for (double t : steady(-3000, 20, 10)) times.push_back(t);
    times.push_back(3 * 86400);
    times.push_back(6 * 86400);
    const Out out = run(times);
    CHECK(out.signs.bounces == 1);
    CHECK(out.signs.duplicates == 1);
    CHECK(out.signs.clock_set_back == 1);
    CHECK(out.signs.clock_back_s == Approx(3180));
    CHECK(out.signs.tips == 22);
    CHECK(out.signs.lone_tips == 2);
    CHECK(out.of(RainPeriod::total).at(0).tips == Approx(22));
    CHECK(out.of(RainPeriod::event).size() == 3);
}

// 3600 h(T) / T = 300 mm/h at T = 0.45 + 3600 * 0.19417 / 300 = 2.780 s; three standard deviations of 0.4 %
// less.
TEST_CASE("rain meter: tips faster than the gauge is made for, by more than their scatter", "[rain]") {
    CHECK(run(steady(0, 2.79, 400)).signs.too_fast == 0);
    CHECK(run(steady(0, 2.755, 400)).signs.too_fast == 0);
    const auto fast = run(steady(0, 2.5, 400)).signs;
    CHECK(fast.too_fast == 399);
    CHECK(fast.fastest_s == Approx(2.5));
    // A clock of whole seconds tells it of several tips together.
    RainSettings settings;
    settings.resolution_s = 1;
    std::vector<double> whole;
    for (const double t : steady(0, 2.2, 400)) whole.push_back(std::floor(t));
    CHECK(run(whole, settings).signs.too_fast > 300);
    whole.clear();
    for (const double t : steady(0, 2.8, 400)) whole.push_back(std::floor(t));
    CHECK(run(whole, settings).signs.too_fast == 0);
}

TEST_CASE("rain meter: drift as uncertainty keeps the first, as interpolation goes half-way", "[rain]") {
    std::vector<RainCalibration> reigns(1);
    reigns[0].from_s = 0;
    reigns[0].left = curve();
    reigns[0].found = curve(1.02 * v0_mL);
    reigns[0].found_at_s = 2e6;
    RainSettings settings;
    const auto times = steady(1e6, 60, 100);
    const auto kept = run(times, settings, reigns).of(RainPeriod::total).at(0);
    settings.drift = DriftAs::interpolation;
    const auto between = run(times, settings, reigns).of(RainPeriod::total).at(0);
    const auto none = run(times).of(RainPeriod::total).at(0);
    CHECK(kept.corrected_mm == Approx(none.corrected_mm));
    CHECK(between.corrected_mm / none.corrected_mm == Approx(1.01).epsilon(1e-3));
    // 2 % as half-width.
    CHECK(kept.u_common_mm / kept.corrected_mm > 0.02 / std::sqrt(3.0));
    CHECK(kept.u_common_mm / kept.corrected_mm < 0.021 / std::sqrt(3.0));
}

TEST_CASE("rain meter: counts with a gap, and what they cost", "[rain]") {
    const auto of_counts = [](int even, int odd) {
        Out out;
        std::vector<RainCalibration> reigns(1);
        reigns[0].left = curve();
        RainSettings settings;
        settings.count_interval_s = 300;
        settings.step_s = 300;
        RainMeter meter({}, std::move(reigns), settings,
                        [&](const RainAmount& a) { out.amounts.push_back(a); });
        FeedSettings feed;
        feed.counts = true;
        TipFeed tips(feed, meter);
        for (int i = 1; i <= 24; ++i) {
            if (i == 10 || i == 11) continue;
            LogEntry entry;
            entry.time_s = 300.0 * i;
            entry.count = i == 5 ? -1 : i % 2 == 0 ? even : odd;
            REQUIRE(tips.take(entry));
        }
        REQUIRE(tips.finish());
        CHECK(meter.signs().gaps == 2);
        CHECK(meter.signs().missing_s == Approx(900));
        return out.of(RainPeriod::total).at(0);
    };
    const auto steady_rain = of_counts(25, 25);
    CHECK(steady_rain.tips == Approx(21 * 25));
    CHECK(steady_rain.missing_s == Approx(900));
    // For two hours as many: a tip in 12 s.
    CHECK(std::abs(steady_rain.corrected_mm - 21 * 25 * depth(12)) < steady_rain.U_mm);
    // Where each count is another, so may be the rain within each.
    const auto in_bursts = of_counts(8, 40);
    CHECK(in_bursts.u_common_mm / in_bursts.corrected_mm > 0.01);
    CHECK(steady_rain.u_common_mm / steady_rain.corrected_mm < 0.005);
}

TEST_CASE("rain meter: counts after a clock was set back follow those before, none twice", "[rain]") {
    Out out;
    std::vector<RainCalibration> reigns(1);
    reigns[0].left = curve();
    RainSettings settings;
    settings.count_interval_s = 300;
    settings.step_s = 300;
    RainMeter meter({}, std::move(reigns), settings, [&](const RainAmount& a) { out.amounts.push_back(a); });
    FeedSettings feed;
    feed.counts = true;
    TipFeed tips(feed, meter);
    const auto take = [&](double time_s) {
        LogEntry entry;
        entry.time_s = time_s;
        entry.count = 25;
        REQUIRE(tips.take(entry));
    };
    for (int i = 1; i <= 10; ++i) take(300.0 * i);
    // The next is due at 3300 s and says 2100.
    for (int i = 7; i <= 9; ++i) take(300.0 * i);
    REQUIRE(tips.finish());
    CHECK(meter.signs().clock_set_back == 1);
    CHECK(meter.signs().clock_back_s == Approx(1200));
    CHECK(meter.signs().duplicates == 0);
    CHECK(out.of(RainPeriod::total).at(0).tips == Approx(13 * 25));
    double until_s = 0;
    for (const RainAmount& one : out.of(RainPeriod::minute)) {
        if (one.tips < 1) continue;  // what may have fallen before and after, of a tip at each end
        CHECK(one.tips == Approx(25).margin(1.5));
        until_s = std::max(until_s, one.until_s);
    }
    CHECK(until_s == Approx(3900));
}

TEST_CASE(
    "rain meter: a clock that tells ten seconds only has several tips at one time, a finer one tells them "
    "twice",
    "[rain]") {
    const auto signs_at = [](double resolution_s) {
        std::vector<RainCalibration> reigns(1);
        reigns[0].left = curve();
        RainSettings settings;
        settings.resolution_s = resolution_s;
        RainMeter meter({}, std::move(reigns), settings, [](const RainAmount&) {});
        FeedSettings feed;
        feed.resolution_s = resolution_s;
        TipFeed tips(feed, meter);
        for (const double time_s : {0.0, 10.0, 10.0, 10.0, 20.0, 30.0}) {
            LogEntry entry;
            entry.time_s = time_s;
            REQUIRE(tips.take(entry));
        }
        REQUIRE(tips.finish());
        return meter.signs();
    };
    CHECK(signs_at(10).tips == 6);
    CHECK(signs_at(10).duplicates + signs_at(10).bounces == 0);
    CHECK(signs_at(9).tips < 6);
}

// Nobody knows whether it was a tip: half a tip's uncertainty.
TEST_CASE("rain meter: a lone tip that one of two contacts counted is a tip give or take half of one",
          "[rain]") {
    const auto u_of = [](bool seen_by_both) {
        Out out;
        std::vector<RainCalibration> reigns(1);
        reigns[0].left = curve();
        RainMeter meter({}, std::move(reigns), {}, [&](const RainAmount& a) { out.amounts.push_back(a); });
        FeedSettings feed;
        feed.two_contacts = true;
        TipFeed tips(feed, meter);
        for (const double day : {0.0, 3.0, 6.0})
            for (const int contact : {1, 2}) {
                if (day == 3 && contact == 2 && !seen_by_both) continue;
                LogEntry entry;
                entry.time_s = 86400 * day;
                entry.contact = contact;
                REQUIRE(tips.take(entry));
            }
        REQUIRE(tips.finish());
        CHECK(meter.signs().one_contact == (seen_by_both ? 0 : 1));
        return out.of(RainPeriod::total).at(0).u_tips_mm;
    };
    const double sound = u_of(true), doubted = u_of(false);
    CHECK(std::sqrt(doubted * doubted - sound * sound) == Approx(depth(1e9) / 2).epsilon(1e-5));
}

// Showers whose intensity changes from one stretch of 90 s to the next, by a factor of 4 either way, and is
// steady within: the water between two tips that lie within a stretch is exactly that of its rate.
TEST_CASE("rain meter: rain that is steady below minutes is not taken to come in bursts", "[rain]") {
    std::vector<double> times;
    double t = 0, fallen = 0, filled = 0;  // filled: share of the tip
    unsigned dice = 12345;
    for (int shower = 0; shower < 40; ++shower, t += 7200)
        for (int stretch = 0; stretch < 40; ++stretch) {
            dice = dice * 1664525u + 1013904223u;
            const double mm_h = 20 * std::pow(4.0, 2.0 * (dice >> 8) / 16777216.0 - 1);
            fallen += mm_h * 90 / 3600;
            // The interval of a tip at this rate: I T = 3600 h(T), h as in depth().
            const double interval_s = tau_s + 3600 * depth(1e9) / mm_h;
            for (double left_s = 90; left_s > 0;) {
                const double step_s = std::min(left_s, (1 - filled) * interval_s);
                t += step_s;
                left_s -= step_s;
                filled += step_s / interval_s;
                if (filled < 1 - 1e-12) continue;
                times.push_back(t);
                filled = 0;
            }
        }
    RainSettings settings;
    settings.resolution_s = 0.001;
    const auto total = run(times, settings).of(RainPeriod::total).at(0);
    INFO("fallen " << fallen << ", corrected " << total.corrected_mm << " +- " << total.U_mm);
    CHECK(std::abs(total.corrected_mm - fallen) < 0.001 * fallen);
    CHECK(std::abs(total.corrected_mm - fallen) < total.U_mm);
    CHECK(total.U_mm < 0.005 * fallen);
}

// Forty showers of 34 min, each of its own mean; within it halvings, weights (1 +- w)/2 with w rectangular
// within 0.5, down to `finest_s`, through a funnel that lags 1.5 s onto a bucket that misses what comes while
// it tips.
struct Rained {
    double fallen_mm = 0;
    std::vector<double> tips_s;
};
Rained showers(double finest_s, unsigned seed) {
    constexpr double step_s = 0.05, long_s = 2048, lag_s = 1.5;
    std::mt19937_64 dice(seed);
    std::uniform_real_distribution<double> even(-0.5, 0.5);
    std::exponential_distribution<double> shower(1 / 15.0);
    Rained out;
    double t = 0, held_mm = 0, rests_until_s = 0;
    for (int i = 0; i < 40; ++i, t += 7200) {
        std::vector<double> rates{2 + shower(dice)};
        while (long_s / static_cast<double>(rates.size()) > finest_s) {
            std::vector<double> finer;
            for (const double rate : rates) {
                const double w = even(dice);
                finer.push_back(rate * (1 + w));
                finer.push_back(rate * (1 - w));
            }
            rates.swap(finer);
        }
        double flow_mm_h = 0;
        for (double at_s = 0; at_s < long_s; at_s += step_s) {
            const double share = at_s / long_s * static_cast<double>(rates.size());
            flow_mm_h += step_s / lag_s * (rates[static_cast<std::size_t>(share)] - flow_mm_h);
            t += step_s;
            out.fallen_mm += flow_mm_h * step_s / 3600;
            if (t > rests_until_s) held_mm += flow_mm_h * step_s / 3600;
            if (held_mm < depth(1e9)) continue;
            held_mm -= depth(1e9);
            out.tips_s.push_back(t);
            rests_until_s = t + tau_s;
        }
    }
    return out;
}

TEST_CASE("rain meter: what fell is within U of tips and of counts, in bursts and steady for a minute",
          "[rain]") {
    int within = 0, all = 0;
    for (const double finest_s : {1.0, 64.0})
        for (const unsigned seed : {1u, 2u, 3u}) {
            const Rained rained = showers(finest_s, seed);
            for (const double interval_s : {0.0, 10.0, 60.0, 600.0}) {
                Out out;
                std::vector<RainCalibration> reigns(1);
                reigns[0].left = curve();
                RainSettings settings;
                settings.count_interval_s = interval_s;
                settings.step_s = std::max(60.0, interval_s);
                RainGauge gauge;
                gauge.scatter_relative = 0.002;
                RainMeter meter(gauge, std::move(reigns), settings,
                                [&](const RainAmount& a) { out.amounts.push_back(a); });
                FeedSettings feed;
                feed.counts = interval_s > 0;
                feed.interval_s = interval_s;
                TipFeed tips(feed, meter);
                std::size_t next = 0;
                for (int i = 1; next < rained.tips_s.size(); ++i) {
                    LogEntry entry;
                    entry.time_s = interval_s > 0 ? interval_s * i : rained.tips_s[next++];
                    while (interval_s > 0 && next < rained.tips_s.size() &&
                           rained.tips_s[next] <= entry.time_s) {
                        ++entry.count;
                        ++next;
                    }
                    REQUIRE(tips.take(entry));
                }
                REQUIRE(tips.finish());
                const auto total = out.of(RainPeriod::total).at(0);
                INFO("steady for " << finest_s << " s, seed " << seed << ", counts of " << interval_s
                                   << " s: fallen " << rained.fallen_mm << " mm, corrected "
                                   << total.corrected_mm << " +- " << total.U_mm << " mm");
                const double off_mm = std::abs(total.corrected_mm - rained.fallen_mm);
                within += off_mm < total.U_mm ? 1 : 0;
                ++all;
                CHECK(off_mm < 1.5 * total.U_mm);
                CHECK(total.U_mm < 0.05 * rained.fallen_mm);
            }
        }
    // At 95 %, 21 of 24 or fewer come up once in 33 times.
    CHECK(within >= all - 2);
}

// A shower at 60 s a tip, in its middle twelve tips at 5 s each, which end at 12:34:56 of the clock: no
// minute of the clock holds them all.
TEST_CASE("rain meter: a place nearby may be fuller than the fullest that tips tell", "[rain]") {
    // Steady: the window ends on tips, and nothing is left open but what a bridge over an interval, of the
    // least openness that is taken for possible, may rise at both ends.
    const auto largest = run(steady(100000, 30, 300)).of(RainPeriod::largest_1).at(0);
    CHECK(largest.tips == Approx(2));
    const double bridge = depth(30) * depth(30) / 201;
    CHECK(largest.u_filling_mm == Approx(std::sqrt(3.14159265358979 / 8 * 2 * bridge / 3)).epsilon(1e-3));
}

TEST_CASE("rain meter: the largest amounts of windows that slide, with U", "[rain]") {
    const double burst_s = 1935664496 - 60;
    std::vector<double> times = steady(burst_s - 3600, 60, 61);
    for (const double t : steady(burst_s + 5, 5, 12)) times.push_back(t);
    for (const double t : steady(burst_s + 120, 60, 60)) times.push_back(t);
    const Out out = run(times);
    const auto one = out.of(RainPeriod::largest_1).at(0);
    CHECK(one.from_s == Approx(burst_s).margin(1e-6));
    CHECK(one.until_s - one.from_s == Approx(60));
    CHECK(one.tips == Approx(12));
    double total = 0;
    for (const auto& minute : out.of(RainPeriod::minute)) total = std::max(total, minute.corrected_mm);
    CHECK(one.corrected_mm > 1.02 * total);
    // By hand: twelve tips of h(5 s), more as the bursts may go on within; one ends as one begins.
    CHECK(one.corrected_mm >= 12 * depth(5));
    CHECK(one.corrected_mm < 1.02 * 12 * depth(5));
    const auto five = out.of(RainPeriod::largest_5).at(0);
    CHECK(five.tips == Approx(16));
    CHECK(five.from_s <= one.from_s);
    CHECK(five.until_s >= one.until_s);
    const auto sixty = out.of(RainPeriod::largest_60).at(0);
    CHECK(sixty.tips == Approx(71));
    CHECK(one.U_mm > 0);
    // The tip still filling counts less where the window ends with one; scatter and calibration stay.
    CHECK(one.u_filling_mm < 0.5 * depth(5));
    CHECK(one.u_mm * one.u_mm == Approx(one.u_common_mm * one.u_common_mm + one.u_tips_mm * one.u_tips_mm +
                                        one.u_filling_mm * one.u_filling_mm));
}
