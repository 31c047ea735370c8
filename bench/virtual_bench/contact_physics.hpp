// ContactPhysics: reed contacts that a magnet passes while the bucket moves. Each movement changes every
// contact once, centred on the moment the bucket is level, for the closure time; with bounce at the edges
// and the second contact a little later. States are electrical: a normally closed contact opens.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "bench/virtual_bench/gauge_mechanism.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"

namespace tipwright::bench {

struct TrueEdge {
    double time_s = 0;
    int contact = 1;      // 1 or 2
    bool closed = false;  // electrical state after the edge
};

class ContactPhysics {
public:
    ContactPhysics(const calib::Gauge& gauge, const GaugeTruth& truth, double edge_time_u_s, Random dice);

    void on_movement(const Movement& movement);
    // Faults: closures of one contact fail with a probability; every closure bounces for that long.
    void miss(int contact, double probability);
    void storm(double duration_s) { storm_s_ = duration_s; }
    // A closure without water: insects, vibration, a hand.
    void close_once(double time_s);

    // Earliest edge not taken yet.
    std::optional<double> next_edge_s() const;
    // Takes the earliest edge if it has happened by then.
    std::optional<TrueEdge> take_edge(double until_s);
    // An edge comes at least this long after its movement started.
    double least_lead_s() const { return lead_s_; }

private:
    void schedule(int contact, double start_s);
    void push(TrueEdge edge);

    std::vector<calib::Contact> contacts_;
    double movement_s_;
    double closure_s_;
    double bounce_probability_;
    double bounce_s_;
    double second_delay_s_;
    double edge_time_u_s_;
    double lead_s_;
    int missing_contact_ = 0;
    double miss_probability_ = 0;
    double storm_s_ = 0;
    Random dice_;
    std::vector<TrueEdge> pending_;             // latest first
    std::array<double, 2> last_scheduled_s_{};  // per contact
};

}  // namespace tipwright::bench
