// Clock: the only way to know or wait for bench time. Seconds since the run began, monotonic.
// Wall: real time, optionally faster. Lockstep: virtual time that jumps to the next wake-up when
// nothing else is ready, so that hours of water pass in a second, the same way every time.
#pragma once

#include <functional>
#include <memory>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>

namespace tipwright::bench {

template <class T>
using Task = boost::asio::awaitable<T>;

class Clock {
public:
    virtual ~Clock() = default;
    // Bench time in seconds.
    virtual double now_s() const = 0;
    // Resumes at or after that bench time; at once if it is past. Honours cancellation.
    virtual Task<void> sleep_until(double time_s) = 0;
    Task<void> sleep_for(double duration_s);
    // Runs the context's handlers until stop() is called, advancing time as this clock does.
    virtual void run() = 0;
    virtual void stop() = 0;
};

std::unique_ptr<Clock> make_wall_clock(boost::asio::io_context& context, double speed = 1.0);
std::unique_ptr<Clock> make_lockstep_clock(boost::asio::io_context& context);

}  // namespace tipwright::bench
