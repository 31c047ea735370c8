// Watchdog: a thread that stops pumps when the event loop hangs. The loop feeds it; when no food came for
// the limit, it writes each pump's stop messages on the pump's link by itself, again every second until it is
// fed again. It holds descriptors of its own, so that a link closed meanwhile cannot lead to another file.
// Time counts on while the computer sleeps or the process is stopped: a gap that is over before this thread
// woke is a hang too. It says what it did: whoever hangs cannot.
#pragma once

#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>

#include "bench/instruments/stop_messages.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

class Watchdog {
public:
    // Real seconds. `bitten` is called by its thread, after the pumps were told to stop, once for each hang;
    // may be empty.
    explicit Watchdog(double limit_s, std::function<void()> bitten = {});
    Watchdog(const Watchdog&) = delete;
    Watchdog& operator=(const Watchdog&) = delete;
    ~Watchdog();

    // From the event loop, several times within the limit.
    void feed();
    // How often it had to stop the pumps; a hang counts once.
    int bites() const;
    // The longest pause between two feedings since it was last asked for, seconds.
    double take_longest_pause_s();
    // The longest hang that was seen to end, seconds.
    double longest_hang_s() const;
    double limit_s() const { return limit_s_; }

    // At once, by whoever ends without a run: the stop messages of every pump.
    void stop_pumps();

    // The pump's link as the watchdog shall know it; one that is no descriptor is passed on as it is.
    std::unique_ptr<Link> guard(std::unique_ptr<Link> pump_link, StopMessages stops);

private:
    class GuardedLink;
    class Pumps;
    void watch();

    double limit_s_;
    std::function<void()> bitten_;
    std::shared_ptr<Pumps> pumps_;  // shared with the links, which may outlive the watchdog
    mutable std::mutex mutex_;
    std::condition_variable changed_;
    double fed_s_;
    double longest_hang_s_ = 0;
    double longest_pause_s_ = 0;
    int bites_ = 0;
    bool biting_ = false;
    bool ending_ = false;
    std::thread thread_;  // last: starts when all the rest stands
};

}  // namespace tipwright::bench
