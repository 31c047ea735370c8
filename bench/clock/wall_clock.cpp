// Wall clock: bench time is real time since the clock was made, times a speed factor.
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "bench/clock/clock.hpp"
#include "bench/clock/pace.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;

class WallClock final : public Clock {
public:
    WallClock(asio::io_context& context, double speed, double start_s)
        : context_(context), pace_(speed, start_s) {}

    double now_s() const override { return pace_.now_s(); }

    Task<void> sleep_until(double time_s) override {
        asio::steady_timer timer(context_, pace_.real_time(time_s));
        co_await timer.async_wait(asio::use_awaitable);
    }

    std::unique_ptr<Alarm> make_alarm() override;

    void run() override {
        const auto work = asio::make_work_guard(context_);
        context_.restart();
        context_.run();
    }

    void stop() override { context_.stop(); }

    const Pace& pace() const { return pace_; }
    asio::io_context& context() const { return context_; }

private:
    asio::io_context& context_;
    Pace pace_;
};

class WallAlarm final : public Alarm {
public:
    explicit WallAlarm(WallClock& clock) : clock_(clock), timer_(clock.context()) {}

    Task<bool> wait_until(double time_s) override {
        boost::system::error_code error;
        if (!rung_) {
            timer_.expires_at(clock_.pace().real_time(time_s));
            co_await timer_.async_wait(asio::redirect_error(asio::use_awaitable, error));
        }
        if (rung_) {
            rung_ = false;
            co_return true;
        }
        if (error) throw boost::system::system_error(error);
        co_return false;
    }

    void ring() override {
        rung_ = true;
        timer_.cancel();
    }

private:
    WallClock& clock_;
    asio::steady_timer timer_;
    bool rung_ = false;
};

std::unique_ptr<Alarm> WallClock::make_alarm() {
    return std::make_unique<WallAlarm>(*this);
}

}  // namespace

std::unique_ptr<Clock> make_wall_clock(boost::asio::io_context& context, double speed, double start_s) {
    return std::make_unique<WallClock>(context, speed, start_s);
}

}  // namespace tipwright::bench
