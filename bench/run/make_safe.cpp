// The end of a run: the pump is stopped first, the balance confirms it, and the vessel is shown to be tight.
#include <algorithm>
#include <cmath>

#include "bench/run/finding_note.hpp"
#include "bench/run/procedure.hpp"
#include "bench/run/unconfirmed_stop.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

// Values found by trial on the virtual bench where no source is named.
constexpr double tightness_shortest_s = 10;
constexpr double tightness_longest_s = 60;
constexpr double tightness_mean_s = 2;  // of readings, at each end

}  // namespace

Task<Outcome> Procedure::check_tightness() {
    auto outcome = co_await guard_.stop();
    if (!outcome) co_return outcome;
    const bool quiet = co_await guard_.confirm_quiet(true);
    if (!quiet) {
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

void Procedure::explain(Fault& fault) const {
    if (fault.code != FaultCode::flow_not_held && fault.code != FaultCode::water_behind) return;
    const auto findings = state_.tracker.what_the_tips_say_so_far();
    if (findings.empty()) return;
    std::string seen;
    for (const auto& finding : findings) add_part(seen, note_of(finding), ", ");
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
    end.stop_confirmed = co_await guard_.confirm_stopped(stopped.ok());
    // Who is on a link that came back meanwhile.
    const auto& last = guard_.fault();
    if (end.fault && end.fault->code == FaultCode::link_lost && last && last->where == end.fault->where)
        end.fault = *last;
    const Outcome ended = unless_stop_unconfirmed(end.fault ? Outcome(*end.fault) : Outcome(Done{}), guard_,
                                                  end.stop_confirmed);
    if (!ended) {
        end.fault = ended.fault();
        end.complete = false;
    }
    static_cast<void>(enter(RunState::ended, 0, 0));
}

}  // namespace tipwright::bench
