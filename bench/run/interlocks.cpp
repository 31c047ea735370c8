#include "bench/run/interlocks.hpp"

#include <algorithm>

#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

// Over which time the balance's rise is looked at: longer than a discharge takes to come.
constexpr double rise_window_s = 10;

}  // namespace

Interlocks::Interlocks(const BenchDescription& bench, const calib::Gauge& gauge)
    : limits_(bench.limits), capacity_g_(bench.vessel_capacity_g) {
    // What may come at once after it was held back in compartments and siphon.
    slug_g_ = 4 * gauge.nominal_tip_mL() + 2 * gauge.siphon_volume_mL;
}

void Interlocks::end_emptying(double empty_g) {
    emptying_ = false;
    empty_known_ = true;
    empty_g_ = empty_g;
    readings_ = 0;
    recent_.clear();
}

void Interlocks::end_waiting(double time_s) {
    if (waiting_since_s_) waited_s_ += time_s - *waiting_since_s_;
    waiting_since_s_.reset();
}

void Interlocks::weight(double time_s, double mass_g) {
    if (emptying_ || fault_) return;
    last_[readings_++ % last_.size()] = mass_g;
    check_rise(time_s, mass_g);
    if (readings_ >= last_.size()) check_fall(mass_g);
    if (empty_known_ && !fault_ && readings_ >= last_.size() &&
        *std::min_element(last_.begin(), last_.end()) - empty_g_ > capacity_g_) {
        fault_ = Fault{FaultCode::vessel_full,
                       "the vessel holds " + calib::fixed(mass_g - empty_g_, 1) + " g, more than its " +
                           calib::fixed(capacity_g_, 0) + " g",
                       "balance", "empty the vessel; look for water that comes past the gauge"};
    }
}

void Interlocks::check_rise(double time_s, double mass_g) {
    recent_.push_back({time_s, mass_g});
    while (recent_.size() > 4 && recent_[1].time_s <= time_s - rise_window_s) recent_.pop_front();
    const double seconds = std::max(time_s - recent_.front().time_s, 0.0);
    // A reading that stands alone proves nothing, neither at the end nor at the start.
    const std::size_t n = recent_.size();
    if (n < 4) return;
    const double rise_g =
        std::min(mass_g, recent_[n - 2].mass_g) - std::max(recent_[0].mass_g, recent_[1].mass_g);
    const double allowed_g = limits_.rise_g_min / 60 * seconds + slug_g_;
    if (fault_ || rise_g <= allowed_g) return;
    fault_ =
        Fault{FaultCode::overload,
              "the balance rose by " + calib::fixed(rise_g, 1) + " g in " + calib::fixed(seconds, 1) +
                  " s, more than " + calib::fixed(limits_.rise_g_min, 0) + " g/min and what the gauge holds",
              "balance", "look for something put on the pan, or water that does not come from the pump"};
}

void Interlocks::check_fall(double mass_g) {
    const auto [low, high] = std::minmax_element(last_.begin(), last_.end());
    if (readings_ == last_.size()) highest_g_ = *low;
    highest_g_ = std::max(highest_g_, *low);
    if (fault_ || *high >= highest_g_ - limits_.fall_g) return;
    fault_ = Fault{
        FaultCode::water_behind,
        "the balance fell by " + calib::fixed(highest_g_ - mass_g, 2) + " g though nobody emptied the vessel",
        "balance", "look for a leak of the vessel or its drain, and for hands and draughts at the balance"};
}

std::optional<Fault> Interlocks::tripped(double time_s) const {
    if (fault_) return fault_;
    const double taken_s = waiting_since_s_.value_or(time_s) - begun_s_ - waited_s_;
    if (taken_s > 3600 * limits_.run_h) {
        return Fault{FaultCode::time_limit,
                     "the run has taken " + calib::fixed(taken_s / 3600, 2) + " h" +
                         (waited_s_ > 0 ? ", waiting for hands left out" : "") + ", more than its " +
                         calib::fixed(limits_.run_h, 2) + " h",
                     "run", "raise run_h in the bench's [limits], or split the plan"};
    }
    return std::nullopt;
}

}  // namespace tipwright::bench
