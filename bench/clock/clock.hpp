// Clock: the only way to know or wait for bench time. Seconds since the run began, monotonic.
// Wall: real time, optionally faster. Lockstep: virtual time that jumps to the next wake-up when
// nothing else is ready, so that hours of water pass in a second, the same way every time. Paced: lockstep
// that waits before each jump, so that a person can follow; on a machine that is too slow bench time waits
// for it, and what happens at which bench time stays the same. One thread. A clock is made after its
// io_context and destroyed before it.
#pragma once

#include <functional>
#include <memory>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>

namespace tipwright::bench {

template <class T>
using Task = boost::asio::awaitable<T>;

// Wakes one waiting coroutine before its time: what a reader rings when bytes have come in.
// A ring without a waiter is kept for the next wait. Outlives whoever waits on it.
class Alarm {
public:
    virtual ~Alarm() = default;
    // True when rung, false at that bench time (infinity: never). Honours cancellation.
    virtual Task<bool> wait_until(double time_s) = 0;
    virtual void ring() = 0;
};

class Clock {
public:
    virtual ~Clock() = default;
    // Bench time in seconds.
    virtual double now_s() const = 0;
    // Resumes at or after that bench time; at once if it is past. Honours cancellation.
    virtual Task<void> sleep_until(double time_s) = 0;
    Task<void> sleep_for(double duration_s);
    virtual std::unique_ptr<Alarm> make_alarm() = 0;
    // Runs the context's handlers until stop() is called, advancing time as this clock does.
    // A lockstep clock also returns when nothing is ready and nobody sleeps: nothing can happen any more.
    virtual void run() = 0;
    virtual void stop() = 0;
};

// start_s: bench time at which the clock begins, for a run that is resumed.
std::unique_ptr<Clock> make_wall_clock(boost::asio::io_context& context, double speed = 1.0,
                                       double start_s = 0);
std::unique_ptr<Clock> make_lockstep_clock(boost::asio::io_context& context, double start_s = 0);
// speed: bench seconds a real second, above 0.
std::unique_ptr<Clock> make_paced_clock(boost::asio::io_context& context, double speed, double start_s = 0);

}  // namespace tipwright::bench
