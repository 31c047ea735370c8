#include "bench/program/instruments/work_vessel.hpp"

#include <algorithm>
#include <string>

#include "bench/run/emptying_by_hand.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

namespace {

using calib::fixed;

constexpr double look_s = 0.5;
constexpr double first_reading_limit_s = 30;
constexpr double drain_look_s = 5;
constexpr double drained_still_g = 0.2;  // it falls by less between two looks
constexpr double empty_enough_g = 30;    // water left in a drained vessel
constexpr double drain_limit_s = 600;
// Longer than anybody needs; in a run the program waits for ever, but here nothing is lost by ending.
constexpr double hand_limit_s = 300;
// A tared vessel that shows no more is empty, whatever the work may want of it.
constexpr double nearly_empty_share = 0.05;

}  // namespace

bench::Task<Outcome> WorkVessel::empty(double wanted_g) {
    if (const Outcome read = co_await first_reading(); !read) co_return read;
    if (work_.description().has_drain_valve) co_return co_await drain();
    const double shown_g = work_.guard().weight_now()->mass_g;
    const double capacity_g = work_.description().vessel_capacity_g;
    if (shown_g + wanted_g > capacity_g && shown_g > nearly_empty_share * capacity_g)
        co_return co_await by_hand();
    empty_g_ = std::min(shown_g, 0.0);
    work_.guard().interlocks().end_emptying(*empty_g_);
    co_return Done{};
}

std::optional<double> WorkVessel::water_g() const {
    const auto now = work_.guard().weight_now();
    return now && empty_g_ ? std::optional(now->mass_g - *empty_g_) : std::nullopt;
}

bench::Task<Outcome> WorkVessel::first_reading() {
    const double start_s = work_.clock().now_s();
    while (!work_.guard().weight_now()) {
        if (work_.clock().now_s() > start_s + first_reading_limit_s) co_return silent();
        co_await work_.clock().sleep_for(look_s);
    }
    co_return Done{};
}

Fault WorkVessel::silent() const {
    const auto& fault = work_.seen().balance_fault;
    return fault ? *fault
                 : Fault{FaultCode::no_answer, "no reading comes", "balance", "check power and cable"};
}

bench::Task<Outcome> WorkVessel::drain() {
    work_.guard().interlocks().begin_emptying();
    const Outcome opened = co_await work_.lane().pump.set_drain(true);
    if (!opened) co_return opened;
    const double start_s = work_.clock().now_s();
    auto before = work_.guard().weight_now();
    while (true) {
        co_await work_.clock().sleep_for(drain_look_s);
        const auto now = work_.guard().weight_now();
        if (!before || !now) co_return silent();
        const bool still = before->mass_g - now->mass_g < drained_still_g;
        if (still && (!empty_g_ || now->mass_g - *empty_g_ < empty_enough_g)) break;
        before = now;
        if (work_.clock().now_s() > start_s + drain_limit_s)
            co_return Fault{FaultCode::vessel_full, "the vessel does not run empty", "drain",
                            "look at the drain valve"};
    }
    const Outcome closed = co_await work_.lane().pump.set_drain(false);
    if (!closed) co_return closed;
    const auto now = work_.guard().weight_now();
    if (!now) co_return silent();
    if (!empty_g_) empty_g_ = now->mass_g;
    work_.guard().interlocks().end_emptying(now->mass_g);
    co_return Done{};
}

bench::Task<Outcome> WorkVessel::by_hand() {
    bench::Interlocks& interlocks = work_.guard().interlocks();
    interlocks.begin_emptying();
    interlocks.begin_waiting(work_.clock().now_s());
    work_.tell("The balance shows " + fixed(work_.guard().weight_now()->mass_g, 0) +
               " g, which may be water. " + bench::empty_it + " An empty one is lifted and put back too.");
    const double start_s = work_.clock().now_s();
    double reminded_s = start_s;
    bench::LiftedAndBack vessel;
    while (!vessel.done()) {
        const double now_s = work_.clock().now_s();
        if (now_s > start_s + hand_limit_s)
            co_return Fault{
                FaultCode::vessel_full,
                "nobody lifted, emptied and put back the vessel within " + fixed(hand_limit_s, 0) + " s",
                "balance", "empty it, and begin again"};
        if (now_s - reminded_s >= bench::remind_to_empty_s) {
            reminded_s = now_s;
            work_.tell(std::string("The pump stands and waits. ") + bench::empty_it);
        }
        const auto now = work_.guard().weight_now();
        if (!now) co_return silent();
        vessel.weight(now->arrived_s, now->mass_g);
        co_await work_.clock().sleep_for(look_s);
    }
    interlocks.end_waiting(work_.clock().now_s());
    empty_g_ = work_.guard().weight_now() ? work_.guard().weight_now()->mass_g : 0;
    interlocks.end_emptying(*empty_g_);
    co_return Done{};
}

}  // namespace tipwright::program
