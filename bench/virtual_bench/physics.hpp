// BenchPhysics: a whole bench with a gauge on it, as it really is. Advances in fixed steps of 5 ms on an
// absolute grid, so that the state at a time does not depend on who looked when; events inside a step
// are timed exactly. Water is counted in mL at the water temperature. Deterministic for a seed.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <vector>

#include "bench/virtual_bench/balance_physics.hpp"
#include "bench/virtual_bench/contact_physics.hpp"
#include "bench/virtual_bench/errors.hpp"
#include "bench/virtual_bench/gauge_mechanism.hpp"
#include "bench/virtual_bench/pump_physics.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "bench/virtual_bench/vessel.hpp"
#include "bench/virtual_bench/water_path.hpp"
#include "calib/base/gauge.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

// Where every drop is, mL. Water is never made or lost: imbalance_mL stays at rounding (below 1e-9 of
// what was pumped).
struct WaterAccount {
    double pumped_mL = 0;
    double kept_by_surfaces_mL = 0;
    double in_funnel_mL = 0;
    double in_gauge_mL = 0;  // siphon chamber and compartments
    double in_drain_mL = 0;  // between gauge and vessel
    double in_vessel_mL = 0;
    double evaporated_mL = 0;
    double drained_mL = 0;
    double spilled_mL = 0;  // over the rim of a blocked funnel
    double leaked_mL = 0;
    double discharged_mL = 0;  // by the gauge, since the run began; not a place

    double imbalance_mL() const;
};

class BenchPhysics {
public:
    static constexpr double step_s = 0.005;

    BenchPhysics(const calib::Gauge& gauge, const GaugeTruth& truth, const BenchTruth& bench,
                 const calib::BenchMetrology& metrology, std::uint64_t seed, const BenchFaults& faults = {});

    // To the last whole step at or before that time; never back.
    void advance_to(double time_s);
    double time_s() const { return static_cast<double>(steps_) * step_s; }

    // Controls: act from the current step on.
    void command_flow(double flow_mL_min) { pump_.command(flow_mL_min); }
    void set_drain(bool open);
    // The pump's own time limit: it stops then unless told another time.
    void stop_pump_at(double time_s) { stop_pump_at_s_ = time_s; }
    // What a hand puts on the pan beside the vessel, in grams as an error-free balance shows it; 0 takes it
    // off.
    void put_on_pan(double load_g) { by_hand_g_ = load_g; }

    PumpPhysics& pump() { return pump_; }
    BalancePhysics& balance() { return balance_; }
    ContactPhysics& contacts() { return contacts_; }

    // Truth.
    WaterAccount water() const;
    const SystematicErrors& errors() const { return errors_; }
    double water_density_kg_m3() const { return water_density_kg_m3_; }
    // What an error-free balance would show of vessel and water, g.
    double load_g() const;
    std::uint64_t tips() const { return mechanism_.tips(); }
    // Every discharge since the start, when asked for before the run.
    void keep_discharges() { keep_discharges_ = true; }
    const std::vector<Discharge>& discharges() const { return discharges_; }

private:
    void step();
    void apply_faults(double now_s);
    double foreign_load_g() const;

    BenchTruth bench_;
    BenchFaults faults_;
    SystematicErrors errors_;
    double water_density_kg_m3_;
    double shown_g_per_mL_;
    PumpPhysics pump_;
    InletPath inlet_;
    Mechanism mechanism_;
    ContactPhysics contacts_;
    DrainPath drain_;
    double evaporation_mL_s_;
    Vessel vessel_;
    BalancePhysics balance_;

    std::uint64_t steps_ = 0;
    double stop_pump_at_s_ = std::numeric_limits<double>::infinity();
    double pumped_mL_ = 0;
    double discharged_mL_ = 0;
    Random fault_dice_;
    bool any_fault_;
    double by_hand_g_ = 0;
    bool funnel_blocked_ = false;
    bool compartment_shifted_ = false;
    bool keep_discharges_ = false;
    std::vector<Movement> started_;
    std::vector<Discharge> discharged_;
    std::vector<Discharge> discharges_;
};

}  // namespace tipwright::bench
