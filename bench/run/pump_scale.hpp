// PumpScale: delivered over commanded flow of the pump, learnt from the balance. A scalar Kalman filter:
// every weighing brings a value with its standard uncertainty, time and changes of rate make it older.
// Source of the filter: Kalman 1960, J. Basic Eng. 82:35; process noise is common practice, no source.
#pragma once

namespace tipwright::bench {

class PumpScale {
public:
    // Delivered/commanded as measured, relative standard uncertainty, bench time.
    void learn(double measured_scale, double relative_u, double time_s);
    // The pump was set to another rate: its scale may differ there a little.
    void rate_changed();

    double value() const { return value_; }
    double relative_u(double time_s) const;
    bool known() const { return known_; }

private:
    double value_ = 1;
    double variance_ = 1;
    double time_s_ = 0;
    bool known_ = false;
};

}  // namespace tipwright::bench
