#include "bench/clock/signal.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace asio = boost::asio;

namespace tipwright::bench {

// A timer that never expires; cancelling it wakes whoever waits.
struct Signal::Waiters {
    explicit Waiters(asio::io_context& context) : timer(context, asio::steady_timer::time_point::max()) {}
    asio::steady_timer timer;
};

Signal::Signal(asio::io_context& context) : waiters_(std::make_unique<Waiters>(context)) {}
Signal::~Signal() = default;

Task<void> Signal::wait() {
    co_await waiters_->timer.async_wait(asio::as_tuple(asio::use_awaitable));
}

void Signal::notify() {
    waiters_->timer.cancel();
}

}  // namespace tipwright::bench
