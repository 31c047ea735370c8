// The end of a run: the pump is stopped first, the balance confirms it, and the vessel is shown to be tight.
#include <algorithm>
#include <cmath>

#include "bench/run/finding_note.hpp"
#include "bench/run/procedure.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

// Values found by trial on the virtual bench where no source is named.
constexpr double quiet_window_s = 5;  // at least, and longer than a discharge would take to come
constexpr double quiet_longest_window_s = 240;
constexpr double quiet_allowance_s = 60;  // for what is in funnel and siphon when the pump stops
constexpr double tightness_shortest_s = 10;
constexpr double tightness_longest_s = 60;
constexpr double tightness_mean_s = 2;  // of readings, at each end
constexpr double ask_again_s = 5;       // a pump that does not obey is told again

}  // namespace

Task<Outcome> Procedure::check_tightness() {
    auto outcome = co_await guard_.stop();
    if (!outcome) co_return outcome;
    quiet_ = co_await confirm_quiet(true);
    if (!quiet_) {
        if (auto fault = trouble()) co_return *fault;
        co_return Fault{FaultCode::water_behind,
                        "the balance does not come to rest though the pump was stopped", "vessel",
                        "look for a leak of the vessel or its drain, and whether the pump runs on"};
    }
    // Long enough to see what would matter, as far as the balance can show it at all.
    const calib::BalanceMetrology& balance = bench_.metrology.balance;
    const double detection_limit_g =
        5 * std::sqrt(2 * (balance.resolution_g * balance.resolution_g / 12 +
                           balance.repeatability_g * balance.repeatability_g / 4));
    const double window_s =
        std::clamp(2 * detection_limit_g / harmless_loss_g_s_, tightness_shortest_s, tightness_longest_s);
    // The repeatability is itself an estimate, so one look may deceive; a leak goes on.
    double lost_g = 0;
    for (int look = 0; look < 2; ++look) {
        auto lost = co_await lost_while_standing_g(window_s);
        if (!lost) co_return lost.fault();
        lost_g = *lost;
        if (lost_g <= std::max(detection_limit_g, harmless_loss_g_s_ * window_s)) co_return Done{};
    }
    co_return Fault{FaultCode::water_behind,
                    "with the pump standing the vessel lost " + calib::fixed(lost_g, 2) + " g in " +
                        calib::fixed(window_s, 0) + " s: what it lost before is missing from every step",
                    "vessel", "look for a leak of the vessel or its drain, then measure again"};
}

// Beyond the evaporation that the bench states.
Task<Result<double>> Procedure::lost_while_standing_g(double window_s) {
    const double start_s = clock_.now_s();
    const Fault silent{FaultCode::no_answer, "no readings came for the check that the vessel is tight",
                       lane_.balance.name(), "check the balance"};
    const std::function<bool()> watched = [&, this] {
        return state_.weight->arrived_s >= start_s + window_s + 2 * tightness_mean_s;
    };
    auto outcome = co_await until(watched, start_s + window_s + 60, silent);
    if (!outcome) co_return outcome.fault();
    double first_g = 0;
    double last_g = 0;
    int firsts = 0;
    int lasts = 0;
    for (const auto& reading : state_.tracker.weights()) {
        if (reading.time_s >= start_s && reading.time_s < start_s + tightness_mean_s) {
            first_g += reading.mass_g;
            ++firsts;
        } else if (reading.time_s >= start_s + tightness_mean_s + window_s) {
            last_g += reading.mass_g;
            ++lasts;
        }
    }
    if (firsts == 0 || lasts == 0) co_return silent;
    const double expected_g = bench_.metrology.evaporation_g_h.value * (window_s + tightness_mean_s) / 3600;
    co_return first_g / firsts - last_g / lasts - expected_g;
}

void Procedure::warn(const std::string& text) {
    log_.remark(clock_.now_s(), text);
    if (callbacks_.message) callbacks_.message(text);
}

Task<bool> Procedure::confirm_quiet(bool told_to_stop) {
    // A pump that runs on shows at the balance only with the next discharge: the balance must stand still for
    // longer than that takes at the last flow. What is in funnel and siphon may come first.
    const double slug_mL = 1.5 * gauge_.nominal_tip_mL() + 1.5 * gauge_.siphon_volume_mL;
    const double window_s =
        set_mL_min_ > 0 ? std::clamp(60 * slug_mL / set_mL_min_, quiet_window_s, quiet_longest_window_s)
                        : quiet_window_s;
    const double start_s = clock_.now_s();
    const double limit_s = start_s + 2 * window_s + quiet_allowance_s;
    double since_s = start_s;
    double reference_g = content_g();
    const int requests = control_.requests();
    // One that stops by itself must hear nothing for that.
    const bool ask_again = !told_to_stop && lane_.pump.own_timeout_s() <= 0;
    double asked_s = start_s;
    while (clock_.now_s() < limit_s) {
        if (guard_.fault() && guard_.fault()->where == lane_.balance.name()) co_return false;
        // A second request means that nobody wants to wait.
        if (control_.requests() > std::max(requests, 1)) co_return false;
        if (std::abs(content_g() - reference_g) > std::max(0.2, 5 * bench_.metrology.balance.resolution_g)) {
            reference_g = content_g();
            since_s = clock_.now_s();
        }
        // What the balance shows, not that it shows nothing: the readings themselves must span the window.
        if (state_.weight && state_.weight->arrived_s - since_s > window_s) co_return true;
        if (ask_again && clock_.now_s() - asked_s > ask_again_s) {
            static_cast<void>(co_await lane_.pump.stop());
            asked_s = clock_.now_s();
        }
        co_await clock_.sleep_for(0.25);
    }
    co_return false;
}

void Procedure::explain(Fault& fault) const {
    if (fault.code != FaultCode::flow_not_held && fault.code != FaultCode::water_behind) return;
    const auto findings = state_.tracker.what_the_tips_say_so_far();
    if (findings.empty()) return;
    std::string seen;
    for (const auto& finding : findings) seen += (seen.empty() ? "" : ", ") + note_of(finding);
    fault.what += "; seen meanwhile: " + seen;
}

Task<void> Procedure::make_safe(RunEnd& end) {
    end.noticed_s = clock_.now_s();
    const Outcome stopped = co_await guard_.make_safe();
    if (auto outcome = enter(RunState::stopping, 0, 0); !outcome && !end.fault) end.fault = outcome.fault();
    if (end.fault) {
        explain(*end.fault);
        log_.fault(clock_.now_s(), *end.fault);
    }
    end.stop_confirmed = quiet_;
    if (!quiet_) end.stop_confirmed = co_await confirm_quiet(stopped.ok());
    if (!end.stop_confirmed) {
        warn(
            "PULL THE PUMP'S PLUG NOW: the balance does not confirm that the water has stopped. Dry hands, "
            "dry "
            "floor first.");
    }
    static_cast<void>(enter(RunState::ended, 0, 0));
}

}  // namespace tipwright::bench
