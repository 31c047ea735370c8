// Signal: lets one coroutine wait until another says that something changed.
// One thread: a waiter that checked its condition and then waits cannot miss a notification.
#pragma once

#include <memory>

#include "bench/clock/clock.hpp"

namespace tipwright::bench {

class Signal {
public:
    explicit Signal(boost::asio::io_context& context);
    ~Signal();
    Signal(const Signal&) = delete;
    Signal& operator=(const Signal&) = delete;

    // Resumes at the next notify() after this call.
    Task<void> wait();
    void notify();

private:
    struct Waiters;
    std::unique_ptr<Waiters> waiters_;
};

}  // namespace tipwright::bench
