// How bench time keeps step with real time: bench seconds a real second (a speed not above 0 is 1), from
// start_s on.
#pragma once

#include <algorithm>
#include <chrono>

namespace tipwright::bench {

class Pace {
public:
    using RealClock = std::chrono::steady_clock;

    Pace(double speed, double start_s)
        : speed_(speed > 0 ? speed : 1.0), bench_s_(start_s), real_(RealClock::now()) {}

    double now_s() const {
        return bench_s_ + speed_ * std::chrono::duration<double>(RealClock::now() - real_).count();
    }
    RealClock::time_point real_time(double time_s) const {
        const double wait_s = std::min((time_s - bench_s_) / speed_, longest_wait_s);
        return real_ + std::chrono::ceil<RealClock::duration>(std::chrono::duration<double>(wait_s));
    }
    // Whoever waited for that bench time has come to it. Where the machine was too slow, what was lost is not
    // made up for.
    void arrive(double time_s) {
        const auto now = RealClock::now();
        if (now < real_time(time_s) + late) return;
        real_ = now;
        bench_s_ = time_s;
    }

private:
    static constexpr std::chrono::milliseconds late{50};
    // Keeps an infinite bench time within what a time point can hold.
    static constexpr double longest_wait_s = 1e9;

    double speed_;
    double bench_s_;
    RealClock::time_point real_;
};

}  // namespace tipwright::bench
