#include "calib/rain/tip_pace.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#include "calib/base/square.hpp"

namespace tipwright::calib {

namespace {
// Lags of funnels are 1 to 2 s (common practice, no source).
constexpr double lag_s = 1.5;
constexpr double root_2 = 1.4142135623730951;
// Over one halving, before any is seen: shares of time as of a Beta(2, 2).
constexpr double growth_at_first = 0.2;
// Rain that stops for most of the time grows no more than by as much as there are halves.
constexpr double most_growth = 1;
// An octave is known by halves when as many tips told of it, and this share of all: rain at its peaks wavers
// less than other rain. What was seen is taken for right within this share, and within its own scatter. All
// three without a source, chosen so that the cascades of tip_pace_test.cpp lie within. Little hangs on them:
// halved or doubled one by one, totals of 30 days on a 200 mm bucket move by no more than 0.04 %, a tenth of
// U, and U by no more than a tenth (four seasons of scaling rain, where it counts most, and some of
// wavering).
constexpr double tips_half_known = 20;
constexpr double share_half_known = 0.03;
constexpr double seen_within = 0.15;
constexpr double scatter_of_growth = 2;  // of a single pair, relative
constexpr double least_pairs = 4;
// A few years' rain: older pairs fade.
constexpr double paces_remembered = 2000;
constexpr int pairs_between = 128;

// k of 2^k <= x < 2^(k + 1), of a positive number: the exponent of its IEEE 754 form.
int octave_of(double x) {
    return static_cast<int>(std::bit_cast<std::uint64_t>(x) >> 52) - 1023;
}
}  // namespace

void TipPace::take(double time_s, int tips) {
    time_in_hand_s_ += time_s;
    tips_in_hand_ += tips;
    if (tips_in_hand_ < least_tips_ || time_in_hand_s_ < least_s_) return;
    Rained whole{time_in_hand_s_, static_cast<double>(tips_in_hand_)};
    bool odd = tips_in_hand_ % 2 == 1;
    seen_tips_ += whole.tips;
    tips_in_hand_ = 0;
    time_in_hand_s_ = 0;
    for (std::size_t k = 0; k < lengths; ++k) {
        Stretch& stretch = stretches_[k];
        stretch.in_hand.time_s += whole.time_s;
        stretch.in_hand.tips += whole.tips;
        if (k > 0) {
            stretch.half = !stretch.half;
            if (stretch.half) return;
        }
        whole = stretch.in_hand;
        stretch.in_hand = {};
        if (stretch.before.time_s > 0 && whole.time_s > 0) pair(stretch.before, whole, odd);
        stretch.before = whole;
        odd = false;
    }
}

void TipPace::part() {
    tips_in_hand_ = 0;
    time_in_hand_s_ = 0;
    stretches_ = {};
}

// What the tips themselves make of it, in the mean. Three times that lie anywhere within a resolution, and
// three shares of a tip at the ends of counts, the middle one counted twice.
double TipPace::own_unevenness(const Rained& before, const Rained& after, bool odd) const {
    const double tips = before.tips + after.tips;
    double out = square(tips_.scatter_relative) / tips;
    if (odd) out += square(2 * tips_.a_excess_relative / tips);
    out += square(tips_.resolution_s / (before.time_s + after.time_s)) / 2;
    if (tips_.counted) out += 1 / square(tips) / 2;
    return out;
}

void TipPace::pair(const Rained& before, const Rained& after, bool odd) {
    const double together_s = before.time_s + after.time_s;
    const double tips = (before.tips + after.tips) / 2;
    // From 2 to the power k + 1/2 lags to twice that: what halves them grows from k + 1 to k, in the middle.
    const int octave = octave_of(together_s / (lag_s * root_2));
    if (octave < 0 || octave >= static_cast<int>(octaves)) return;
    Octave& seen = seen_[static_cast<std::size_t>(octave)];
    const double p = before.time_s / together_s;
    const double q = before.tips / (before.tips + after.tips);
    const double faster = square(q - p) / (p * (1 - p));
    // ln(1 + faster) as -ln(1 - x), x = faster/(1 + faster), to second order: so it stays bounded where one
    // of both was all but dry.
    const double uneven = faster / (1 + faster);
    const double growth = uneven * (1 + uneven / 2) - own_unevenness(before, after, odd);
    seen.tips += tips;
    seen.pairs = std::min(seen.pairs + 1, paces_remembered);
    seen.growth += (growth - seen.growth) / seen.pairs;
    if (++unlearned_ >= pairs_between) learn();
}

void TipPace::learn() {
    unlearned_ = 0;
    std::array<PaceRange, octaves> steps{};
    double most = growth_at_first;
    for (std::size_t k = octaves; k-- > 0;) {
        const Octave& seen = seen_[k];
        const double known = seen.tips / (seen.tips + tips_half_known + share_half_known * seen_tips_);
        const double growth = known * std::max(0.0, seen.growth);
        const double off = seen_within + scatter_of_growth / std::sqrt(std::max(seen.pairs, least_pairs));
        most = std::min(most_growth, growth * (1 + off) + (1 - known) * most);
        steps[k] = {1 + std::min(most, growth * std::max(0.0, 1 - off)), 1 + most};
    }
    for (std::size_t k = 1; k < octaves; ++k)
        paces_[k] = {paces_[k - 1].low * steps[k - 1].low, paces_[k - 1].high * steps[k - 1].high};
}

PaceRange TipPace::within(double interval_s) const {
    if (!(interval_s > lag_s && interval_s <= longest_paced_s)) return {};
    const double lags = interval_s / lag_s;
    const auto at = static_cast<std::size_t>(std::min(octave_of(lags), static_cast<int>(octaves) - 2));
    const double share = lags / static_cast<double>(std::uint64_t{1} << at) - 1;  // 0 to 1 in the octave
    const PaceRange& a = paces_[at];
    const PaceRange& b = paces_[at + 1];
    return {a.low + share * (b.low - a.low), a.high + share * (b.high - a.high)};
}

}  // namespace tipwright::calib
