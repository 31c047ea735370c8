#include "calib/rain/tip_pace.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::calib {

namespace {
// Lags of funnels are 1 to 2 s (common practice, no source).
constexpr double lag_s = 1.5;
constexpr double root_2 = 1.4142135623730951;
constexpr double longest_paced_s = 86400;
// Over one halving, before any is seen: shares of time as of a Beta(2, 2).
constexpr double growth_at_first = 0.2;
// Rain that stops for most of the time grows no more than by as much as there are halves.
constexpr double most_growth = 1;
constexpr double most_of_pair = 3;
// An octave is known by halves when as many tips told of it, and this share of all: rain at its peaks wavers
// less than other rain. What was seen is taken for right within this share, and within its own scatter. All
// three without a source, chosen so that the cascades of tip_pace_test.cpp lie within.
constexpr double tips_half_known = 20;
constexpr double share_half_known = 0.03;
constexpr double seen_within = 0.15;
constexpr double scatter_of_growth = 2;  // of a single pair, relative
constexpr double least_pairs = 4;
// A few years' rain: older pairs fade.
constexpr double pairs_remembered = 2000;
constexpr int pairs_between = 32;

double square(double x) {
    return x * x;
}
}  // namespace

void TipPace::take(double interval_s) {
    time_in_hand_s_ += interval_s;
    if (++tips_in_hand_ < least_tips_ || time_in_hand_s_ < least_s_) return;
    double time_s = time_in_hand_s_;
    double tips = tips_in_hand_;
    tips_ += tips;
    tips_in_hand_ = 0;
    time_in_hand_s_ = 0;
    for (std::size_t k = 0; k < lengths; ++k, tips *= 2) {
        Stretch& stretch = stretches_[k];
        stretch.time_s += time_s;
        if (k > 0) {
            stretch.half = !stretch.half;
            if (stretch.half) return;
        }
        time_s = stretch.time_s;
        stretch.time_s = 0;
        if (stretch.before_s > 0 && time_s > 0) pair(stretch.before_s, time_s, tips);
        stretch.before_s = time_s;
    }
}

void TipPace::part() {
    tips_in_hand_ = 0;
    time_in_hand_s_ = 0;
    stretches_ = {};
}

void TipPace::pair(double before_s, double after_s, double tips) {
    const double together_s = before_s + after_s;
    // From 2 to the power k + 1/2 lags to twice that: what halves them grows from k + 1 to k, in the middle.
    int octave = 0;
    std::frexp(together_s / (lag_s * root_2), &octave);
    if (octave < 1 || octave > static_cast<int>(octaves)) return;
    Octave& seen = seen_[static_cast<std::size_t>(octave - 1)];
    const bool odd = std::fmod(tips, 2) == 1;
    const double own = square(scatter_) / (2 * tips) + (odd ? square(a_excess_ / tips) : 0);
    const double share = before_s / together_s;
    const double growth = std::min(-std::log(4 * share * (1 - share)), most_of_pair) - own;
    seen.tips += tips;
    seen.pairs = std::min(seen.pairs + 1, pairs_remembered);
    seen.growth += (growth - seen.growth) / seen.pairs;
    if (++unlearned_ >= pairs_between) learn();
}

void TipPace::learn() {
    unlearned_ = 0;
    std::array<PaceRange, octaves> steps{};
    double most = growth_at_first;
    for (std::size_t k = octaves; k-- > 0;) {
        const Octave& seen = seen_[k];
        const double known = seen.tips / (seen.tips + tips_half_known + share_half_known * tips_);
        const double growth = known * std::max(0.0, seen.growth);
        const double off = seen_within + scatter_of_growth / std::sqrt(std::max(seen.pairs, least_pairs));
        most = std::min(most_growth, growth * (1 + off) + (1 - known) * most);
        steps[k] = {1 + std::min(most, growth * std::max(0.0, 1 - off)), 1 + most};
    }
    for (std::size_t k = 1; k < octaves; ++k)
        paces_[k] = {paces_[k - 1].low * steps[k - 1].low, paces_[k - 1].high * steps[k - 1].high};
}

PaceRange TipPace::within(double interval_s) const {
    // Days later, and at no flow at all, the rate says nothing any more.
    if (!(interval_s > lag_s && interval_s < longest_paced_s)) return {};
    int octave = 0;
    const double share = 2 * std::frexp(interval_s / lag_s, &octave) - 1;  // 0 to 1 within the octave
    const auto at = static_cast<std::size_t>(std::clamp(octave - 1, 0, static_cast<int>(octaves) - 2));
    const PaceRange& a = paces_[at];
    const PaceRange& b = paces_[at + 1];
    return {a.low + share * (b.low - a.low), a.high + share * (b.high - a.high)};
}

}  // namespace tipwright::calib
