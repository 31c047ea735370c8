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
constexpr double overload_g = 1e5;

bool due(double at_s, double now_s) {
    return at_s >= 0 && now_s >= at_s;
}

bool any_in_physics(const BenchFaults& f) {
    for (const double at_s :
         {f.pump_stalls_at_s, f.pump_runs_on_at_s, f.reservoir_empties_at_s, f.funnel_blocks_at_s,
          f.bucket_sticks_at_s, f.compartment_shifts_at_s, f.vessel_leaks_at_s, f.phantom_tips_at_s,
          f.contact_misses_at_s, f.bounce_storms_at_s, f.balance_freezes_at_s, f.balance_jumps_at_s,
          f.balance_overload_at_s}) {
        if (at_s >= 0) return true;
    }
    return f.evaporation_growth_per_h != 0;
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
      mechanism_(gauge, truth_of_one(truth, errors_), Random(seed, stream::tips)),
      contacts_(gauge, truth, metrology.edge_time_u_s, Random(seed, stream::contacts)),
      drain_(truth, metrology.residual_u_g / water_density_kg_m3_ * 1000, step_s,
             Random(seed, stream::drain)),
      evaporation_mL_s_(errors_.evaporation_g_h / 3600 / water_density_kg_m3_ * 1000),
      vessel_(evaporation_mL_s_, bench.drain_flow_mL_s, Random(seed, stream::vessel)),
      balance_(bench, metrology.balance, errors_, step_s, Random(seed, stream::balance)),
      fault_dice_(seed, stream::faults),
      any_fault_(any_in_physics(faults)) {}

void BenchPhysics::advance_to(double time_s) {
    // A time on the grid may come a rounding short of it.
    const double whole = std::floor(time_s / step_s + 1e-6);
    if (!(whole > 0)) return;
    const auto wanted = static_cast<std::uint64_t>(whole);
    while (steps_ < wanted) step();
}

void BenchPhysics::set_drain(bool open) {
    if (!due(faults_.drain_sticks_at_s, time_s())) vessel_.set_drain(open);
}

void BenchPhysics::apply_faults(double now_s) {
    const BenchFaults& f = faults_;
    if (due(f.pump_stalls_at_s, now_s)) pump_.stall();
    if (due(f.pump_runs_on_at_s, now_s)) pump_.run_on();
    if (due(f.reservoir_empties_at_s, now_s)) bench_.reservoir_mL = std::min(bench_.reservoir_mL, pumped_mL_);
    if (!funnel_blocked_ && due(f.funnel_blocks_at_s, now_s)) {
        funnel_blocked_ = true;
        inlet_.block(std::max(least_blocked_flow_mL_s, blocked_share * pump_.flow_mL_min() / 60));
    }
    if (due(f.bucket_sticks_at_s, now_s)) mechanism_.stick();
    if (!compartment_shifted_ && due(f.compartment_shifts_at_s, now_s)) {
        compartment_shifted_ = true;
        mechanism_.shift_a(f.compartment_shift_percent / 100);
    }
    if (due(f.vessel_leaks_at_s, now_s)) vessel_.leak(f.vessel_leak_mL_min / 60);
    if (f.evaporation_growth_per_h != 0) {
        const double grown = std::max(0.0, 1 + f.evaporation_growth_per_h * now_s / 3600);
        vessel_.set_evaporation(evaporation_mL_s_ * grown);
    }
    // Not before the counter, which looks ahead by the least lead, can see it.
    if (due(f.phantom_tips_at_s, now_s) && fault_dice_.happens(f.phantom_tips_per_min / 60 * step_s)) {
        contacts_.close_once(now_s + step_s + contacts_.least_lead_s());
    }
    if (due(f.contact_misses_at_s, now_s)) contacts_.miss(f.contact_missing, f.contact_miss_probability);
    if (due(f.bounce_storms_at_s, now_s)) contacts_.storm(f.bounce_storm_s);
    if (due(f.balance_freezes_at_s, now_s)) balance_.freeze();
}

// What stands on the pan beside the vessel.
double BenchPhysics::foreign_load_g() const {
    const double now_s = time_s();
    double load = due(faults_.balance_jumps_at_s, now_s) ? faults_.balance_jump_g : 0;
    if (due(faults_.balance_overload_at_s, now_s)) load += overload_g;
    return load;
}

void BenchPhysics::step() {
    const double now_s = time_s();
    if (any_fault_) apply_faults(now_s);
    if (now_s >= stop_pump_at_s_) pump_.command(0);
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
    balance_.follow(any_fault_ ? load_g() + foreign_load_g() : load_g());
    ++steps_;
}

double BenchPhysics::load_g() const {
    return bench_.vessel_g + by_hand_g_ + vessel_.water_mL() * shown_g_per_mL_;
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
