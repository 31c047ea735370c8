#include "bench/virtual_bench/gauge_mechanism.hpp"

#include <algorithm>
#include <limits>

namespace tipwright::bench {

namespace {
constexpr double never = std::numeric_limits<double>::infinity();
// However wide the scatter, a compartment needs some water to tip.
constexpr double least_threshold = 0.05;
// A bucket that sticks holds this many times its threshold before it runs over.
constexpr double stuck_holds = 1.5;
// At most this share of the flow can splash away.
constexpr double most_splash = 0.5;
}  // namespace

Mechanism::Mechanism(const calib::Gauge& gauge, const GaugeTruth& truth, Random dice)
    : resting_mL_(gauge.nominal_tip_mL() * (1 + truth.volume_excess_percent / 100)),
      a_excess_(gauge.compartments == 2 ? truth.a_excess_percent / 100 : 0),
      scatter_(truth.tip_scatter_percent / 100),
      movement_s_(truth.movement_time_s),
      movement_growth_s2_mL_(truth.movement_growth_s2_mL),
      siphon_mL_(gauge.inlet == calib::Inlet::siphon ? truth.siphon_volume_mL : 0),
      siphon_flow_mL_s_(truth.siphon_flow_mL_s),
      siphon_scatter_(truth.siphon_scatter_percent / 100),
      splash_s_mL_(truth.splash_percent_per_mL_s / 100),
      compartments_(gauge.compartments),
      dice_(dice) {
    draw_threshold();
    draw_slug();
}

void Mechanism::draw_slug() {
    const double scattered = siphon_scatter_ > 0 && siphon_mL_ > 0 ? 1 + siphon_scatter_ * dice_.normal() : 1;
    slug_mL_ = siphon_mL_ * std::max(least_threshold, scattered);
}

void Mechanism::draw_threshold() {
    const double side = side_ == 0 ? (1 + a_excess_) * (1 + a_shift_) : 1 - a_excess_;
    const double scattered = scatter_ > 0 ? 1 + scatter_ * dice_.normal() : 1;
    threshold_mL_ = resting_mL_ * side * std::max(least_threshold, scattered);
}

double Mechanism::feed_mL_s(double inflow_mL_s) const {
    if (siphon_mL_ <= 0) return inflow_mL_s;
    return flushing_ ? siphon_flow_mL_s_ : 0;
}

double Mechanism::advance(double time_s, double dt_s, double inflow_mL_s, std::vector<Movement>& started,
                          std::vector<Discharge>& discharged) {
    double splashed_mL = 0;
    double t = time_s;
    const double end = time_s + dt_s;
    while (true) {
        const double feed = feed_mL_s(inflow_mL_s);
        const double tips_at_mL = threshold_mL_ * (stuck_ ? stuck_holds : 1);
        const bool runs_over = stuck_ && !moving_ && held_mL_ >= tips_at_mL;
        const double splash = runs_over ? 1 : std::min(most_splash, splash_s_mL_ * feed);
        const double caught = feed * (1 - splash);
        const double rise = siphon_mL_ > 0 ? inflow_mL_s - feed : 0;

        double chamber_event_s = never;
        if (siphon_mL_ > 0 && !flushing_ && rise > 0) {
            chamber_event_s = std::max(0.0, slug_mL_ - chamber_mL_) / rise;
        } else if (flushing_ && rise < 0) {
            chamber_event_s = chamber_mL_ / -rise;
        }
        double bucket_event_s = never;
        if (moving_) {
            bucket_event_s = std::max(0.0, moved_at_s_ - t);
        } else if (caught > 0) {
            bucket_event_s = std::max(0.0, tips_at_mL - held_mL_) / caught;
        }

        const double left_s = end - t;
        const double step_s = std::min({left_s, chamber_event_s, bucket_event_s});
        chamber_mL_ += rise * step_s;
        held_mL_ += caught * step_s;
        splashed_mL += feed * splash * step_s;
        if (step_s >= left_s) break;
        t += step_s;

        if (step_s == chamber_event_s) {
            flushing_ = !flushing_;
            if (!flushing_) {
                chamber_mL_ = 0;
                draw_slug();
            }
        } else if (moving_) {
            discharged.push_back({t, held_mL_, side_});
            held_mL_ = 0;
            moving_ = false;
            if (compartments_ == 2) side_ = 1 - side_;
            draw_threshold();
        } else if (stuck_) {
            held_mL_ = std::max(held_mL_, tips_at_mL);
        } else {
            const double duration_s = movement_s_ + movement_growth_s2_mL_ * feed;
            started.push_back({t, duration_s, side_});
            moved_at_s_ = t + duration_s;
            moving_ = true;
            ++tips_;
        }
    }
    return splashed_mL;
}

}  // namespace tipwright::bench
