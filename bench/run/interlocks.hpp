// Interlocks: limits of the bench description that no reading may pass while water flows. The first one
// passed is kept; the run stops the pump for it. Pure: fed with what is read, asked for the fault.
#pragma once

#include <array>
#include <cstddef>
#include <deque>
#include <optional>

#include "bench/descriptions/descriptions.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"

namespace tipwright::bench {

class Interlocks {
public:
    Interlocks(const BenchDescription& bench, const calib::Gauge& gauge);

    // The run began.
    void begin(double time_s) { begun_s_ = time_s; }
    // The pump stands until a person has done something: that takes as long as it takes.
    void begin_waiting(double time_s) { waiting_since_s_ = time_s; }
    void end_waiting(double time_s);
    // The vessel is being emptied, or that is over and this reading is its empty weight.
    void begin_emptying() { emptying_ = true; }
    void end_emptying(double empty_g);

    void weight(double time_s, double mass_g);
    std::optional<Fault> tripped(double time_s) const;

private:
    void check_rise(double time_s, double mass_g);
    void check_fall(double mass_g);

    BenchLimits limits_;
    double capacity_g_;
    double slug_g_;
    double begun_s_ = 0;
    double waited_s_ = 0;
    std::optional<double> waiting_since_s_;
    double empty_g_ = 0;
    bool emptying_ = false;
    bool empty_known_ = false;
    struct Point {
        double time_s;
        double mass_g;
    };
    std::deque<Point> recent_;
    std::array<double, 3> last_{};  // the last readings: one alone proves nothing
    std::size_t readings_ = 0;
    double highest_g_ = 0;  // that three readings in a row reached
    std::optional<Fault> fault_;
};

}  // namespace tipwright::bench
