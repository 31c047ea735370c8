#include "calib/rain/rain_meter.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/dates.hpp"
#include "calib/base/square.hpp"
#include "calib/rain/rain_periods.hpp"
#include "calib/rain/tip_pace.hpp"

namespace tipwright::calib {

namespace {

using rain::Depth;
using rain::Filling;
using rain::Piece;
using rain::RainPeriods;

constexpr double hour_s = 3600;
constexpr double year_s = 365.25 * day_s;
constexpr double at_rest_s = std::numeric_limits<double>::infinity();
constexpr double dry_openness = 1.0 / 3;
// Neighbouring intervals are averaged over about this many pairs.
constexpr double pairs_remembered = 20;
constexpr double start_shape = 2;
constexpr double least_shape = 0.3;
constexpr double most_shape = 200;
// An interval is measured well enough for the correction when it is this many times the resolution.
constexpr double intervals_of_resolution = 10;
// How the rate changes is told from stretches of so many counted tips: a share of a tip at their ends must
// not make it all (common practice, no source).
constexpr int counted_of_stretch = 4;
// Emptyings of a siphon that make a mean rate.
constexpr double emptyings = 2;
// Its tips follow each other faster than at the gauge's highest intensity, or it would run over; a pause
// longer than that by this, for their scatter, parts two emptyings (common practice, no source).
constexpr double pause_longer = 1.25;
// Where no pause comes the siphon hardly stops: so many times the tips of a mean are enough.
constexpr int longest_mean = 2;
// A steady trickle: so many tips, so long, none further from their mean than this share (common practice, no
// source).
constexpr int flat_tips = 20;
constexpr double flat_s = 3600;
constexpr double flat_share = 0.05;
// A single tip, or some together, came faster than the gauge is made for when no scatter of its tips explains
// it: three standard deviations, as limits of control charts (ISO 7870-2) and Grubbs' and other outlier rules
// have it.
constexpr double scatter_allowed = 3;
// Within one emptying a siphon's tips come as fast as the siphon runs: only twice as fast tells (common
// practice, no source).
constexpr double siphon_allowed = 0.5;
constexpr double finest_s = 0.1;  // resolution of times that tells a single interval
// How variable rain is, its first tips are told by those after them.
constexpr std::size_t tips_held = 2000;
// Behind those of the two curves.
constexpr std::size_t drift_mode = rain::sum_modes - 1;

}  // namespace

// NOLINTNEXTLINE(clang-analyzer-optin.performance.Padding): by what they are for; there is one, not an array.
struct RainMeter::Impl {
    RainGauge gauge;
    std::vector<RainCalibration> reigns;
    RainSettings settings;
    RainSigns signs;

    double tip_mm;  // at rest
    double chamber_variance;
    Pieces pieces;
    int block_tips;
    bool bunched;          // single tips of a siphon, those of an emptying together
    double emptying_tips;  // of an emptying, in the mean; else 1
    double block_s;

    // Tips of the block in hand.
    double last_s = 0;
    bool any = false;
    double block_from_s = 0;
    int in_block = 0;
    double paced_sum_s = 0;
    bool paced = false;
    double doubted = 0;
    double mean_s = 0;  // interval of the block before, 0: none since a dry stretch
    // The tip after a dry stretch, whose second half waits for the next one.
    std::optional<Filling> waiting;
    double waiting_room_s = 0;
    bool lone_before = false;
    double variance_of_share = 1 / (4 * (2 * start_shape + 1));
    std::vector<RainTip> held;  // the first tips
    double heard_s = 0;         // the last one, held or not
    bool heard = false;
    bool begun = false;
    std::uint64_t fillings = 0;
    TipPace tip_pace;
    std::size_t reign = 0;

    double made_for_s = 0;  // interval between tips at the gauge's highest intensity; 0: not declared
    int fast_singles = 0;   // of the block in hand

    double gap_until_s = -std::numeric_limits<double>::infinity();

    int flat_count = 0;
    double flat_mean_s = 0;
    double flat_from_s = 0;

    Impl(const RainGauge& g, std::vector<RainCalibration> c, const RainSettings& s, Pieces p)
        : gauge(g),
          reigns(std::move(c)),
          settings(s),
          tip_mm(reigns.front().left.mm_at(at_rest_s)),
          chamber_variance(rain::chamber_variance(gauge)),
          pieces(std::move(p)),
          block_tips(gauge.siphon_mm > 0 ? static_cast<int>(std::ceil(emptyings * gauge.siphon_mm / tip_mm))
                                         : 1),
          bunched(gauge.siphon_mm > 0 && !counted()),
          emptying_tips(bunched ? std::max(1.0, gauge.siphon_mm / tip_mm) : 1),
          block_s(counted() ? 0 : intervals_of_resolution * settings.resolution_s),
          tip_pace({gauge.scatter_relative, gauge.a_excess_relative, counted() ? 0 : settings.resolution_s,
                    counted()},
                   counted() ? counted_of_stretch * block_tips : block_tips, block_s) {
        if (!counted() && gauge.max_intensity_mm_h > 0) {
            // The bucket's own depth at that rate, by its calibration: I T = h(T).
            made_for_s = hour_s * tip_mm / gauge.max_intensity_mm_h;
            for (int i = 0; i < 50; ++i)
                made_for_s = hour_s * reigns.front().left.mm_at(made_for_s) / gauge.max_intensity_mm_h;
        }
    }
    void pour(const Filling& filling) {
        Piece piece{Piece::Is::water, 0, 0, filling};
        pieces(piece);
    }
    void hand_on(Piece::Is is, double from_s = 0, double until_s = 0) { pieces({is, from_s, until_s}); }
    bool counted() const { return settings.count_interval_s > 0; }
    // So many tips came in that time: faster than their scatter, the compartments' difference and the clock
    // let them come at the highest intensity.
    bool too_fast(double tips, double time_s, double share) const {
        const double room =
            scatter_allowed * gauge.scatter_relative * std::sqrt(tips) + std::abs(gauge.a_excess_relative);
        return time_s + settings.resolution_s < share * made_for_s * (tips - room);
    }
    // Blocks of a siphon's tips go from the end of one emptying to the end of another: a block from amid one
    // to amid the next would hold more emptyings than pauses, or fewer.
    bool parts_emptyings() const { return bunched && made_for_s > 0; }
    bool begins_emptying(double interval_s) const { return interval_s > pause_longer * made_for_s; }
    void note_fast(int tips, double interval_s) {
        signs.too_fast += static_cast<std::uint64_t>(tips);
        if (signs.fastest_s == 0 || interval_s < signs.fastest_s) signs.fastest_s = interval_s;
    }

    // time_s: of a block's tips. Within an interval of counts nobody knows when they came.
    PaceRange pace_within(double time_s) const {
        if (!counted()) return tip_pace.within(time_s);
        return tip_pace.within(std::min(std::max(time_s, settings.count_interval_s), longest_paced_s));
    }

    Depth depth_at(double time_s, double mean_interval_s, const PaceRange& pace) {
        const double interval_s = mean_interval_s / pace.middle();
        while (reign + 1 < reigns.size() && time_s >= reigns[reign + 1].from_s) ++reign;
        const RainCalibration& now = reigns[reign];
        Depth out;
        out.reign = static_cast<int>(reign);
        out.rim_relative_u = now.left.rim_relative_u();
        out.dof = now.left.dof();
        out.beyond = mean_interval_s < now.left.shortest_s() / 1.02;
        const TipDepth a = now.left.at(interval_s);
        out.mm = a.mm;
        double share = 1;
        if (now.found) {
            const TipDepth b = now.found->at(interval_s);
            const double drift = b.mm - a.mm;
            if (settings.drift == DriftAs::interpolation) {
                const double span = now.found_at_s - now.from_s;
                const double w = span > 0 ? std::clamp((time_s - now.from_s) / span, 0.0, 1.0) : 0;
                share = 1 - w;
                out.mm = a.mm + w * drift;
                for (std::size_t k = 0; k < curve_modes; ++k) out.modes[curve_modes + k] = w * b.modes[k];
                out.modes[drift_mode] = drift * std::sqrt(w * (1 - w));
                out.dof = std::min(out.dof, now.found->dof());
            } else {
                out.modes[drift_mode] = drift / std::sqrt(3.0);
            }
        }
        if (!now.found && settings.drift_per_year > 0)
            out.modes[drift_mode] =
                a.mm * settings.drift_per_year * std::abs(time_s - now.from_s) / year_s / std::sqrt(3.0);
        for (std::size_t k = 0; k < curve_modes; ++k) out.modes[k] = share * a.modes[k];
        if (pace.high > pace.low) {
            const double spread =
                now.left.mm_at(mean_interval_s / pace.high) - now.left.mm_at(mean_interval_s / pace.low);
            out.modes[drift_mode] = std::sqrt(square(out.modes[drift_mode]) + square(spread) / 12);
        }
        return out;
    }

    double openness() const {
        if (counted()) return dry_openness;
        const double shape = std::clamp((1 / (4 * variance_of_share) - 1) / 2, least_shape, most_shape);
        return 1 / (shape + 1);
    }
    void watch_flat(double interval_s, double until_s) {
        if (flat_count > 0 && std::abs(interval_s / flat_mean_s - 1) <= flat_share) {
            ++flat_count;
            flat_mean_s += (interval_s - flat_mean_s) / flat_count;
            return;
        }
        end_flat(until_s - interval_s);
        flat_count = 1;
        flat_mean_s = interval_s;
        flat_from_s = until_s - interval_s;
    }
    void end_flat(double until_s) {
        const double long_s = until_s - flat_from_s;
        if (flat_count >= flat_tips && long_s >= flat_s && !counted()) {
            ++signs.flat_tails;
            if (long_s > signs.flat_tail_s) {
                signs.flat_tail_s = long_s;
                signs.flat_tail_from_s = flat_from_s;
            }
        }
        flat_count = 0;
    }
    void close_block() {
        if (in_block == 0) return;
        double interval_s = (last_s - block_from_s) / in_block;
        // Too few tips of a siphon are of one emptying, as fast as the siphon runs: as it rained before, and
        // nobody knows how where that was dry.
        const bool known = !bunched || in_block >= block_tips;
        if (!known && mean_s > 0)
            interval_s = std::max(interval_s, mean_s);
        else if (!known)
            interval_s = at_rest_s;
        const double pace_s = paced ? paced_sum_s / in_block : interval_s;
        if (bunched) pour_waiting(known ? interval_s * emptying_tips : settings.spread_limit_s / 2);
        Filling filling;
        filling.id = ++fillings;
        filling.t0 = block_from_s;
        filling.t1 = last_s;
        filling.x1 = filling.size = in_block;
        filling.depth = depth_at(last_s, std::max(pace_s, 1e-6), pace_within(last_s - block_from_s));
        if (filling.depth.beyond) signs.beyond += static_cast<std::uint64_t>(in_block);
        if (known && mean_s > 0 && interval_s > 0) {
            const double share = mean_s / (mean_s + interval_s);
            variance_of_share += (square(share - 0.5) - variance_of_share) / pairs_remembered;
        }
        filling.openness = openness();
        filling.chamber_variance = chamber_variance;
        filling.doubted = doubted;
        if (made_for_s > 0 && fast_singles == 0 && too_fast(in_block, last_s - block_from_s, 1))
            note_fast(in_block, (last_s - block_from_s) / in_block);
        fast_singles = 0;
        pour(filling);
        if (known) {
            watch_flat(interval_s, last_s);
            mean_s = interval_s;
        }
        in_block = 0;
        doubted = 0;
        paced = false;
        paced_sum_s = 0;
    }
    // The second half of the tip after a dry stretch, once the interval after it is known.
    void pour_waiting(double next_interval_s) {
        if (!waiting) return;
        const double back = std::min({next_interval_s, waiting_room_s, settings.spread_limit_s});
        waiting->t0 = waiting->t1 - back;
        pour(*waiting);
        waiting.reset();
    }
    void dry(const RainTip& tip, double interval_s) {
        const double end_s = last_s;
        close_block();
        end_flat(end_s);
        pour_waiting(settings.spread_limit_s / 2);
        Filling filling;
        filling.id = ++fillings;
        double since_s = at_rest_s;
        if (any) since_s = interval_s;
        filling.depth = depth_at(tip.time_s, since_s, pace_within(interval_s));
        filling.chamber_variance = chamber_variance;
        filling.doubted = tip.one_contact ? 0.5 : 0;
        if (any) {
            // Behind the last tip.
            Filling behind = filling;
            const double most = std::min(settings.spread_limit_s, interval_s / 2);
            behind.t0 = last_s;
            behind.t1 = last_s + std::min(mean_s > 0 ? mean_s * emptying_tips : most, most);
            behind.x0 = 0;
            behind.x1 = 0.5;
            pour(behind);
        }
        if (any && interval_s > settings.event_gap_s) hand_on(Piece::Is::event_ends);
        filling.t1 = tip.time_s;
        filling.x0 = 0.5;
        filling.x1 = 1;
        waiting = filling;
        waiting_room_s = any ? interval_s / 2 : settings.spread_limit_s;
        mean_s = 0;
        if (any && interval_s > signs.longest_silence_s) {
            signs.longest_silence_s = interval_s;
            signs.silence_from_s = last_s;
        }
        const bool far = !any || interval_s > day_s;
        if (lone_before && far) ++signs.lone_tips;
        lone_before = far;
        block_from_s = tip.time_s;
    }
    // How the first tips' intervals differ, before they are corrected by it.
    void begin() {
        begun = true;
        tip_pace.learn();
        double sum = 0;
        int seen = 0, in = 0;
        double from_s = 0, at_s = 0, before_s = 0;
        bool first = true;
        for (const RainTip& tip : held) {
            const double interval_s = tip.time_s - at_s;
            const bool parted = first || tip.unknown_interval || interval_s > settings.spread_limit_s;
            first = false;
            at_s = tip.time_s;
            if (parted) {
                from_s = at_s;
                before_s = 0;
                in = 0;
                continue;
            }
            if (++in < block_tips || at_s - from_s < block_s) continue;
            const double mean = (at_s - from_s) / in;
            if (before_s > 0 && mean > 0 && seen < pairs_remembered) {
                sum += square(before_s / (before_s + mean) - 0.5);
                ++seen;
            }
            before_s = mean;
            from_s = at_s;
            in = 0;
        }
        variance_of_share = (sum + (pairs_remembered - seen) * variance_of_share) / pairs_remembered;
        for (const RainTip& tip : held) take(tip);
        held = {};
    }
    void hear(double from_s, double until_s, int tips, bool unknown) {
        const double since_s = until_s - heard_s;
        if (!heard || unknown || from_s - heard_s > settings.spread_limit_s) {
            tip_pace.part();
            if (counted()) tip_pace.take(until_s - from_s, tips);
        } else {
            tip_pace.take(since_s, tips);
        }
        heard = true;
        heard_s = until_s;
    }
    void hold(const RainTip& tip) {
        if (!counted()) hear(tip.time_s, tip.time_s, 1, tip.unknown_interval);
        if (begun) return take(tip);
        held.push_back(tip);
        if (held.size() >= tips_held) begin();
    }
    void take(const RainTip& tip) {
        ++signs.tips;
        const double interval_s = any ? tip.time_s - last_s : 0;
        if (!any || tip.unknown_interval || interval_s > settings.spread_limit_s) {
            dry(tip, interval_s);
            last_s = tip.time_s;
            any = true;
            return;
        }
        lone_before = false;
        // A siphon's next tip is of the same emptying.
        if (!bunched) pour_waiting(interval_s);
        const double pace = tip.paced_s > 0 ? tip.paced_s : interval_s;
        if (made_for_s > 0 && settings.resolution_s <= finest_s &&
            too_fast(1, interval_s, gauge.siphon_mm > 0 ? siphon_allowed : 1)) {
            note_fast(1, interval_s);
            ++fast_singles;
        }
        if (parts_emptyings()) {
            if (waiting && in_block == 0 && !begins_emptying(interval_s) && waiting->x1 < emptying_tips + 1) {
                // The rest of the first emptying.
                waiting->x1 += 1;
                waiting->size = waiting->x1;
                waiting->t1 = tip.time_s;
                waiting->doubted += tip.one_contact ? 1 : 0;
                last_s = tip.time_s;
                return;
            }
            if (in_block >= block_tips && begins_emptying(interval_s)) close_block();
        }
        if (in_block == 0) block_from_s = last_s;
        ++in_block;
        paced = paced || tip.paced_s > 0;
        paced_sum_s += pace;
        doubted += tip.one_contact ? 1 : 0;
        last_s = tip.time_s;
        const int enough = parts_emptyings() ? longest_mean * block_tips : block_tips;
        if (in_block >= enough && last_s - block_from_s >= block_s) close_block();
    }
    void finish() {
        if (!begun) begin();
        if (!any) return;
        close_block();
        end_flat(last_s);
        pour_waiting(settings.spread_limit_s / 2);
        if (lone_before) ++signs.lone_tips;
        // What the bucket holds at the end: in the mean half a tip.
        Filling behind;
        behind.id = ++fillings;
        behind.depth = depth_at(last_s, at_rest_s, {});
        behind.chamber_variance = chamber_variance;
        behind.t0 = last_s;
        behind.t1 = last_s + std::min(mean_s > 0 ? mean_s * emptying_tips : settings.spread_limit_s,
                                      settings.spread_limit_s);
        behind.x1 = 0.5;
        pour(behind);
        hand_on(Piece::Is::end);
    }
};

RainMeter::RainMeter(const RainGauge& gauge, std::vector<RainCalibration> calibrations,
                     const RainSettings& settings, Pieces pieces)
    : impl_(std::make_unique<Impl>(gauge, std::move(calibrations), settings, std::move(pieces))) {}
RainMeter::RainMeter(const RainGauge& gauge, std::vector<RainCalibration> calibrations,
                     const RainSettings& settings, Sink sink)
    : impl_(std::make_unique<Impl>(gauge, std::move(calibrations), settings, Pieces())) {
    impl_->pieces = [periods = std::make_shared<RainPeriods>(impl_->gauge, impl_->reigns, impl_->settings,
                                                             std::move(sink))](const Piece& piece) {
        periods->take(piece);
    };
}
RainMeter::~RainMeter() = default;

void RainMeter::tip(const RainTip& tip) {
    impl_->hold(tip);
}
void RainMeter::count(double from_s, double until_s, int tips, bool unknown) {
    impl_->hear(from_s, until_s, tips, unknown);
}
void RainMeter::gap(double from_s, double until_s) {
    if (from_s != impl_->gap_until_s) ++impl_->signs.gaps;
    impl_->gap_until_s = until_s;
    impl_->signs.missing_s += until_s - from_s;
    impl_->hand_on(Piece::Is::gap, from_s, until_s);
}
void RainMeter::covers(double from_s, double until_s) {
    impl_->hand_on(Piece::Is::covered, from_s, until_s);
}
void RainMeter::finish() {
    impl_->finish();
}
RainSigns& RainMeter::signs() {
    return impl_->signs;
}

}  // namespace tipwright::calib
