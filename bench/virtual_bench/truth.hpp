// Truth: the numbers a virtual bench is made of, known exactly. Gauge truth comes from the [virtual]
// table of a gauge kind, bench truth from the [virtual] table of a bench description; systematic errors
// of the bench's instruments are drawn from the distributions its budget states (BenchMetrology).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace tipwright::bench {

struct GaugeTruth {
    double volume_excess_percent = 0;  // mean resting volume V0 over nominal tip volume, minus 1
    double a_excess_percent = 1.0;     // compartment A over the mean of both, minus 1
    double tip_scatter_percent = 0.5;  // standard deviation of the tipping threshold
    double movement_time_s = 0.45;     // start of movement to level: inflow still enters
    double movement_growth_s2_mL = 0;  // movement time grows by this much per mL/s (magnet spoon)
    double closure_s = 0.08;           // how long a contact stays changed
    double bounce_probability = 0.2;
    double bounce_s = 0.004;
    double second_contact_delay_s = 0.006;
    double siphon_volume_mL = 0;  // 0: straight tube
    double siphon_flow_mL_s = 0;
    double siphon_scatter_percent = 4;  // standard deviation of the volume at which the siphon starts
    double funnel_lag_s = 1.5;          // first-order lag from nozzle to bucket
    double wetting_mL = 2;              // kept by dry surfaces
    double drain_delay_s = 0.3;
    double drain_lag_s = 0.5;
    double splash_percent_per_mL_s = 0;  // of the flow, leaves without being measured, per mL/s of flow
};

struct BenchTruth {
    double pump_scale_spread_percent = 4;  // half-width of the pump's unknown scale error
    double pump_wear_percent_h = 1;
    double pump_ripple_percent = 8;  // amplitude of roller pulsation
    double pump_mL_per_turn = 0.5;
    double pump_rollers_per_turn = 6;
    double pump_ramp_s = 0.5;
    double pump_max_mL_min = 400;
    double balance_rate_hz = 5;
    double balance_filter_s = 0.5;
    double balance_noise_g = 0.006;
    double vessel_g = 180;        // empty vessel on the pan
    double drain_flow_mL_s = 40;  // when the drain valve is open
    double water_temperature_C = 20.5;
    double air_temperature_C = 21;
    double air_pressure_hPa = 1008;
    double relative_humidity_percent = 48;
    double reservoir_mL = 1e6;
};

// Harm done to the bytes of one instrument's link, both ways, between two times. A probability counts
// for each byte. Loss of every byte is a silent instrument.
struct LinkFaults {
    std::string role = "all";  // pump, balance, counter, climate, all
    double from_s = 0;
    double until_s = 1e300;
    double loss_probability = 0;
    double flip_probability = 0;  // one bit turned over
    double repeat_probability = 0;
    double burst_probability = 0;  // 1 to 32 random bytes pushed in before it
    double delay_s = 0;            // every line or answer comes that much later
};

// Faults a virtual bench can be told to have, for tests and trials. Times in bench seconds, from then to
// the end; below 0: never.
struct BenchFaults {
    double pump_stalls_at_s = -1;           // acknowledges, but no longer turns
    double pump_runs_on_at_s = -1;          // acknowledges, but keeps the speed it has; STOP too
    double pump_refuses_at_s = -1;          // answers ERR to everything but ID?
    double reservoir_empties_at_s = -1;     // pumps air
    double funnel_blocks_at_s = -1;         // flow through falls far behind flow in
    double bucket_sticks_at_s = -1;         // no more tips; water runs over the compartment
    double compartment_shifts_at_s = -1;    // water hangs on a stop screw, or the bucket sits differently:
    double compartment_shift_percent = 10;  // A tips at that much more
    double vessel_leaks_at_s = -1;
    double vessel_leak_mL_min = 3;
    double drain_sticks_at_s = -1;        // the valve acknowledges, but stays as it is
    double evaporation_growth_per_h = 0;  // the rate grows by this fraction of itself an hour

    double counter_silent_at_s = -1;
    double counter_clock_steps_at_s = -1;
    double counter_clock_step_s = 0.5;
    double phantom_tips_at_s = -1;  // closures without water: insects, vibration
    double phantom_tips_per_min = 6;
    double contact_misses_at_s = -1;        // closures of one contact fail with the probability
    double contact_miss_probability = 0.1;  // 1: the contact is dead
    int contact_missing = 1;                // which contact misses
    double bounce_storms_at_s = -1;         // every closure bounces 10 to 30 times,
    double bounce_storm_s = 0.05;           // for this long

    double balance_garbles_at_s = -1;
    double balance_freezes_at_s = -1;  // repeats its last reading for ever
    double balance_jumps_at_s = -1;    // something falls on the pan and stays
    double balance_jump_g = 5;
    double balance_overload_at_s = -1;

    double link_lost_at_s = -1;
    std::string link_lost_role = "balance";  // or pump, counter, climate, all
    std::vector<LinkFaults> links;
};

}  // namespace tipwright::bench
