// PumpPhysics: a roller pump as it is, not as it says. Commanded mL/min by its own scale; delivers mL.
// Roller pulsation is integrated exactly over every step, however many rollers pass in it.
#pragma once

#include "bench/virtual_bench/truth.hpp"

namespace tipwright::bench {

// A smooth odd wave of period 1 and amplitude 1, made of parabolas, and its integral from 0 (in 0 to 1/3).
double parabolic_wave(double phase);
double parabolic_wave_integral(double phase);

class PumpPhysics {
public:
    PumpPhysics(const BenchTruth& truth, double scale_error_relative);

    void command(double flow_mL_min);   // 0 stops it; it needs the ramp time to get there
    void stall() { stalled_ = true; }   // keeps taking commands, no longer turns
    void run_on() { runs_on_ = true; }  // keeps taking commands, keeps the speed it has
    // Advances by a step and gives the water moved in it, mL.
    double step(double dt_s);

    double commanded_mL_min() const { return target_mL_s_ * 60; }
    // True mean flow at this moment, ripple left out.
    double flow_mL_min() const { return speed_mL_s_ * per_nominal_mL() * 60; }
    double hours_run() const { return seconds_run_ / 3600; }

private:
    double per_nominal_mL() const { return scale_ * (1 - wear_per_s_ * seconds_run_); }

    double scale_;  // true mL per mL of the pump's own scale, tube new
    double wear_per_s_;
    double ripple_;
    double mL_per_roller_;  // by the pump's own scale
    double slew_mL_s2_;
    double target_mL_s_ = 0;  // by the pump's own scale
    double speed_mL_s_ = 0;
    double phase_ = 0;  // of the roller in action, 0 to 1
    double seconds_run_ = 0;
    bool stalled_ = false;
    bool runs_on_ = false;
};

}  // namespace tipwright::bench
