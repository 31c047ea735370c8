#include "bench/virtual_bench/physics.hpp"

#include <algorithm>
#include <cmath>

#include "bench/virtual_bench/densities.hpp"
#include "bench/virtual_bench/streams.hpp"

namespace tipwright::bench {

namespace {
// A blockage lets this share of the flow through that the pump gave when it came.
constexpr double blocked_share = 0.3;
constexpr double least_blocked_flow_mL_s = 0.002;

bool due(double at_s, double now_s) {
    return at_s >= 0 && now_s >= at_s;
}
}  // namespace

double WaterAccount::imbalance_mL() const {
    return pumped_mL - (kept_by_surfaces_mL + in_funnel_mL + in_gauge_mL + in_drain_mL + in_vessel_mL +
                        evaporated_mL + drained_mL + spilled_mL + leaked_mL);
}

BenchPhysics::BenchPhysics(const calib::Gauge& gauge, const GaugeTruth& truth, const BenchTruth& bench,
                           const calib::BenchMetrology& metrology, std::uint64_t seed,
                           const BenchFaults& faults)
    : bench_(bench),
      faults_(faults),
      errors_(draw_errors(gauge, bench, metrology, seed)),
      water_density_kg_m3_(world_water_density_kg_m3(bench.water_temperature_C)),
      shown_g_per_mL_(water_density_kg_m3_ / 1000 *
                      shown_per_gram(world_air_density_kg_m3(bench.air_temperature_C, bench.air_pressure_hPa,
                                                             bench.relative_humidity_percent),
                                     water_density_kg_m3_)),
      pump_(bench, errors_.pump_scale_relative),
      inlet_(truth, step_s),
      mechanism_(gauge, truth, Random(seed, stream::tips)),
      contacts_(gauge, truth, metrology.edge_time_u_s, Random(seed, stream::contacts)),
      drain_(truth, metrology.residual_u_g / water_density_kg_m3_ * 1000, step_s,
             Random(seed, stream::drain)),
      vessel_(errors_.evaporation_g_h / 3600 / water_density_kg_m3_ * 1000, bench.drain_flow_mL_s,
              Random(seed, stream::vessel)),
      balance_(bench, metrology.balance, errors_, step_s, Random(seed, stream::balance)) {}

void BenchPhysics::advance_to(double time_s) {
    // A time on the grid may come a rounding short of it.
    const double whole = std::floor(time_s / step_s + 1e-6);
    if (!(whole > 0)) return;
    const auto wanted = static_cast<std::uint64_t>(whole);
    while (steps_ < wanted) step();
}

void BenchPhysics::start_faults(double now_s) {
    if (due(faults_.pump_stalls_at_s, now_s)) pump_.stall();
    if (!funnel_blocked_ && due(faults_.funnel_blocks_at_s, now_s)) {
        funnel_blocked_ = true;
        inlet_.block(std::max(least_blocked_flow_mL_s, blocked_share * pump_.flow_mL_min() / 60));
    }
}

void BenchPhysics::step() {
    const double now_s = time_s();
    start_faults(now_s);
    const double pumped = std::min(pump_.step(step_s), bench_.reservoir_mL - pumped_mL_);
    pumped_mL_ += pumped;
    const double inflow_mL = inlet_.step(pumped);
    const double splashed = mechanism_.advance(now_s, step_s, inflow_mL / step_s, started_, discharged_);
    discharged_mL_ += splashed;
    if (!started_.empty()) {
        for (const Movement& movement : started_) contacts_.on_movement(movement);
        started_.clear();
    }
    if (!discharged_.empty()) {
        for (const Discharge& discharge : discharged_) {
            drain_.add(discharge);
            discharged_mL_ += discharge.volume_mL;
        }
        if (keep_discharges_) discharges_.insert(discharges_.end(), discharged_.begin(), discharged_.end());
        discharged_.clear();
    }
    vessel_.step(step_s, drain_.step(now_s, splashed));
    balance_.follow(load_g());
    ++steps_;
}

double BenchPhysics::load_g() const {
    return bench_.vessel_g + vessel_.water_mL() * shown_g_per_mL_;
}

WaterAccount BenchPhysics::water() const {
    WaterAccount account;
    account.pumped_mL = pumped_mL_;
    account.kept_by_surfaces_mL = inlet_.kept_by_surfaces_mL();
    account.in_funnel_mL = inlet_.standing_mL();
    account.in_gauge_mL = mechanism_.holds_mL();
    account.in_drain_mL = drain_.holds_mL();
    account.in_vessel_mL = vessel_.water_mL();
    account.evaporated_mL = vessel_.evaporated_mL();
    account.drained_mL = vessel_.drained_mL();
    account.spilled_mL = inlet_.spilled_mL();
    account.leaked_mL = vessel_.leaked_mL();
    account.discharged_mL = discharged_mL_;
    return account;
}

}  // namespace tipwright::bench
