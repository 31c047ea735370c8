#include "bench/program/instruments/work_vessel.hpp"

#include <string>

namespace tipwright::program {

namespace {

constexpr double vessel_look_s = 0.5;
constexpr double first_reading_limit_s = 30;

}  // namespace

bench::Task<Outcome> WorkVessel::empty(double wanted_g) {
    if (!vessel_) {
        if (const Outcome read = co_await first_reading(); !read) co_return read;
        vessel_.emplace(
            work_.guard(), work_.lane().pump, work_.clock(), work_.description(), nullptr,
            [this] { return work_.clock().sleep_for(vessel_look_s); },
            [this](const std::string& text) { work_.tell(text); });
        vessel_->found(work_.guard().weight_now()->mass_g, 0);
    }
    const auto now = work_.guard().weight_now();
    if (work_.description().has_drain_valve || !now || !vessel_->ready_for(now->mass_g, wanted_g))
        co_return co_await vessel_->empty(wanted_g);
    vessel_->watch();
    co_return Done{};
}

std::optional<double> WorkVessel::water_g() const {
    const auto now = work_.guard().weight_now();
    return now && vessel_ ? std::optional(vessel_->water_g(now->mass_g)) : std::nullopt;
}

bench::Task<Outcome> WorkVessel::first_reading() {
    const double start_s = work_.clock().now_s();
    while (!work_.guard().weight_now()) {
        if (work_.clock().now_s() > start_s + first_reading_limit_s) {
            const auto& fault = work_.seen().balance_fault;
            co_return fault
                ? *fault
                : Fault{FaultCode::no_answer, "no reading comes", "balance", "check power and cable"};
        }
        co_await work_.clock().sleep_for(vessel_look_s);
    }
    co_return Done{};
}

}  // namespace tipwright::program
