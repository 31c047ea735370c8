// How the balance confirms that the water has stopped, whatever the pump says of itself.
#include <algorithm>
#include <cmath>

#include "bench/run/water_guard.hpp"

namespace tipwright::bench {

namespace {

// Values found by trial on the virtual bench where no source is named.
constexpr double quiet_window_s = 5;  // at least, and longer than a discharge would take to come
constexpr double quiet_longest_window_s = 240;
constexpr double quiet_allowance_s = 60;  // for what is in funnel and siphon when the pump stops
constexpr double discharges_to_come = 1.5;
constexpr double ask_again_s = 5;  // a pump that does not obey is told again
constexpr double quiet_look_s = 0.25;

}  // namespace

Task<bool> WaterGuard::confirm_quiet(bool told_to_stop) {
    // A pump that runs on shows at the balance only with the next discharge: the balance must stand still for
    // longer than that takes at the last flow. What is in funnel and siphon may come first.
    const double window_s = water_flowed()
                                ? std::clamp(60 * discharges_to_come * discharge_mL_ / delivered_mL_min_,
                                             quiet_window_s, quiet_longest_window_s)
                                : quiet_window_s;
    const double start_s = clock_.now_s();
    const double limit_s = start_s + 2 * window_s + quiet_allowance_s;
    const auto shown_g = [this] { return weight_ ? weight_->mass_g : 0; };
    double since_s = start_s;
    double reference_g = shown_g();
    const int requests = control_.requests();
    // One that stops by itself must hear nothing for that; another bench's is left alone.
    const bool ask_again = !told_to_stop && lane_.pump.own_timeout_s() <= 0 && !pump_is_another_;
    double asked_s = start_s;
    while (clock_.now_s() < limit_s) {
        if (fault_ && fault_->where == lane_.balance.name()) co_return false;
        // A second request means that nobody wants to wait.
        if (control_.requests() > std::max(requests, 1)) co_return false;
        if (std::abs(shown_g() - reference_g) > std::max(0.2, 5 * bench_.metrology.balance.resolution_g)) {
            reference_g = shown_g();
            since_s = clock_.now_s();
        }
        // What the balance shows, not that it shows nothing: the readings themselves must span the window.
        if (weight_ && weight_->arrived_s - since_s > window_s) {
            quiet_ = true;
            co_return true;
        }
        if (ask_again && clock_.now_s() - asked_s > ask_again_s) {
            static_cast<void>(co_await lane_.pump.stop());
            asked_s = clock_.now_s();
        }
        co_await clock_.sleep_for(quiet_look_s);
    }
    co_return false;
}

Task<bool> WaterGuard::confirm_stopped(bool told_to_stop) {
    if (quiet_) co_return true;
    const bool confirmed = co_await confirm_quiet(told_to_stop);
    if (confirmed) co_return true;
    cry("the balance does not confirm that the water has stopped");
    co_return false;
}

}  // namespace tipwright::bench
