#include "bench/run/vessel_keeper.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

constexpr double moves_g = 0.5;  // it stands still while it moves by no more
constexpr double drain_limit_s = 600;
// Before the first water nothing is lost by ending, and nobody needs longer.
constexpr double hand_limit_s = 300;

// A simulated vessel inside this process is out of everybody's reach.
bool within_reach(const BenchDescription& bench) {
    return std::none_of(bench.instruments.begin(), bench.instruments.end(), [](const auto& instrument) {
        return instrument.role == "balance" && instrument.link == "virtual";
    });
}

Fault silent() {
    return {FaultCode::no_answer, "no reading comes", "balance", "check power and cable"};
}

}  // namespace

VesselKeeper::VesselKeeper(WaterGuard& guard, Pump& pump, Clock& clock, const BenchDescription& bench,
                           RunLog* log, std::function<Task<void>()> news,
                           std::function<void(const std::string&)> tell)
    : guard_(guard),
      pump_(pump),
      clock_(clock),
      bench_(bench),
      log_(log),
      news_(std::move(news)),
      tell_(std::move(tell)),
      content_(bench.vessel_empty_g, bench.vessel_capacity_g) {}

void VesselKeeper::found(double shown_g, double collected_g) {
    content_.found(shown_g, collected_g);
}

void VesselKeeper::watch() {
    guard_.interlocks().end_emptying(content_.counted_from_g());
}

Task<Outcome> VesselKeeper::empty(double wanted_g) {
    guard_.interlocks().begin_emptying();
    Outcome outcome = Done{};
    if (bench_.has_drain_valve)
        outcome = co_await drain(wanted_g);
    else
        outcome = co_await by_hand(wanted_g);
    if (!outcome) co_return outcome;
    watch();
    co_return Done{};
}

Task<Outcome> VesselKeeper::drain(double wanted_g) {
    const auto full = guard_.weight_now();
    if (!full) co_return silent();
    auto outcome = co_await pump_.set_drain(true);
    if (!outcome) co_return outcome;
    if (log_ != nullptr) log_->drain(clock_.now_s(), true);
    const double start_s = clock_.now_s();
    double still_since_s = start_s;
    double now_g = guard_.weight_now().value_or(*full).mass_g;
    double still_at_g = now_g;
    for (;;) {
        if (auto fault = guard_.trouble()) co_return *fault;
        const auto now = guard_.weight_now();
        if (!now) co_return silent();
        now_g = now->mass_g;
        if (std::abs(now_g - still_at_g) > moves_g) {
            still_at_g = now_g;
            still_since_s = clock_.now_s();
        }
        const bool still = clock_.now_s() - still_since_s > emptied_window_s;
        if (still && (!content_.empty_is_known() || content_.has_run_out(full->mass_g, now_g))) break;
        if (clock_.now_s() >= start_s + drain_limit_s)
            co_return Fault{
                FaultCode::vessel_full,
                "the vessel does not run empty: the balance shows " + calib::fixed(now_g, 0) + " g", "drain",
                "look at the drain valve and what stands on the balance; [vessel] empty_g says what "
                "the empty vessel shows"};
        co_await news_();
    }
    outcome = co_await pump_.set_drain(false);
    if (!outcome) co_return outcome;
    if (log_ != nullptr) log_->drain(clock_.now_s(), false);
    now_g = guard_.weight_now().value_or(*full).mass_g;
    if (content_.has_run_out(full->mass_g, now_g) && !content_.is_off(now_g)) {
        content_.emptied(now_g);
    } else if (!ready_for(now_g, wanted_g)) {
        co_return co_await by_hand(wanted_g);
    }
    co_return Done{};
}

std::string VesselKeeper::what_to_do(double shown_g) const {
    const std::string shows = "The balance shows " + calib::fixed(shown_g, 0) + " g";
    if (content_.is_off(shown_g))
        return shows +
               ", less than the empty vessel. Put the bench's vessel on it, and tare it only as when "
               "[vessel] empty_g was read.";
    if (content_.empty_is_known())
        return shows + ", of which " + calib::fixed(content_.water_g(shown_g), 0) + " g are water. " +
               empty_it;
    return shows + ", which may be water. " + empty_it + " An empty one is lifted and put back too.";
}

Fault VesselKeeper::nobody_came() const {
    if (!guard_.weight_now()) return silent();
    return {FaultCode::vessel_full,
            "nobody lifted, emptied and put back the vessel within " + calib::fixed(hand_limit_s, 0) + " s",
            "balance", "empty it, and begin again"};
}

Task<Outcome> VesselKeeper::by_hand(double wanted_g) {
    if (!within_reach(bench_))
        co_return Fault{FaultCode::vessel_full,
                        "the vessel must be emptied by hand, and nobody can reach that of a virtual bench",
                        "balance", "give the bench a drain valve or a larger vessel, or serve it"};
    const auto full = guard_.weight_now();
    if (!full) co_return silent();
    tell(what_to_do(full->mass_g));
    const double start_s = clock_.now_s();
    guard_.interlocks().begin_waiting(start_s);
    double reminded_s = start_s;
    bool told_off = content_.is_off(full->mass_g);
    LiftedAndBack seen;
    for (;; co_await news_()) {
        if (auto fault = guard_.trouble()) co_return *fault;
        const double now_s = clock_.now_s();
        if (!guard_.water_flowed() && now_s > start_s + hand_limit_s) co_return nobody_came();
        if (now_s - reminded_s >= remind_to_empty_s) {
            reminded_s = now_s;
            tell(std::string("The pump stands and waits. ") + empty_it);
        }
        // Some balances say nothing while nothing stands on them.
        const auto now = guard_.weight_now();
        if (!now) continue;
        seen.weight(now->arrived_s, now->mass_g);
        if (!seen.still()) continue;
        // Of a vessel nobody knows, what was poured out where it stands looks as if it was lifted.
        const bool off =
            content_.empty_is_known() ? content_.is_off(now->mass_g) : seen.lifted() && !seen.back();
        if (off) {
            if (!std::exchange(told_off, true)) tell(vessel_is_off);
            continue;
        }
        const bool done = content_.empty_is_known()
                              ? content_.nearly_empty(now->mass_g) ||
                                    (seen.done() && content_.has_room(now->mass_g, wanted_g))
                              : seen.done() && content_.has_lost_what_came(full->mass_g, now->mass_g);
        if (!done) continue;
        content_.emptied(now->mass_g);
        break;
    }
    guard_.interlocks().end_waiting(clock_.now_s());
    co_return Done{};
}

}  // namespace tipwright::bench
