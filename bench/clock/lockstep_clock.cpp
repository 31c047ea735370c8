// Lockstep clock: virtual time. Sleepers stand in a set ordered by time, then by order of arrival; when
// the context has nothing ready, time jumps to the first of them and that one alone is woken. Paced, it is
// waited for.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <type_traits>
#include <utility>

#include <boost/asio/associated_cancellation_slot.hpp>
#include <boost/asio/associated_executor.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/intrusive/set.hpp>

#include "bench/clock/clock.hpp"
#include "bench/clock/pace.hpp"

namespace tipwright::bench {

namespace {

namespace asio = boost::asio;
namespace intrusive = boost::intrusive;
using boost::system::error_code;

class LockstepAlarm;

// One sleeping coroutine. Linked into the clock's set while it sleeps, so that waking, ringing and
// cancelling it are all one removal.
class Sleeper : public intrusive::set_base_hook<> {
public:
    Sleeper(double time_s, std::uint64_t order, Sleeper** owner)
        : time_s_(time_s), order_(order), owner_(owner) {
        if (owner_) *owner_ = this;
    }
    Sleeper(const Sleeper&) = delete;
    Sleeper& operator=(const Sleeper&) = delete;
    virtual ~Sleeper() {
        if (owner_) *owner_ = nullptr;
    }

    double time_s() const { return time_s_; }
    // Hands the coroutine back to its executor. The sleeper is out of the set and dies with this call.
    virtual void wake(error_code error, bool rung) = 0;

    friend bool operator<(const Sleeper& a, const Sleeper& b) {
        return a.time_s_ != b.time_s_ ? a.time_s_ < b.time_s_ : a.order_ < b.order_;
    }

private:
    double time_s_;
    std::uint64_t order_;
    Sleeper** owner_;  // an alarm's pointer to its sleeper, cleared when the sleeper goes
};

template <bool tells_rung, class Handler>
class SleeperWith final : public Sleeper {
public:
    SleeperWith(double time_s, std::uint64_t order, Sleeper** owner, Handler handler)
        : Sleeper(time_s, order, owner), handler_(std::move(handler)) {}

    void wake(error_code error, bool rung) override {
        // On cancellation the slot's own function is what runs here; it must not be cleared under itself.
        auto slot = asio::get_associated_cancellation_slot(handler_);
        if (!error && slot.is_connected()) slot.clear();
        auto executor = asio::get_associated_executor(handler_);
        Resume resume{std::move(handler_), error, rung};
        delete this;
        asio::post(executor, std::move(resume));
    }

private:
    struct Resume {
        Handler handler;
        error_code error;
        bool rung;
        void operator()() {
            if constexpr (tells_rung) {
                handler(error, rung);
            } else {
                handler(error);
            }
        }
    };

    Handler handler_;
};

class LockstepClock final : public Clock {
public:
    LockstepClock(asio::io_context& context, double start_s, std::optional<Pace> pace = {})
        : context_(context), now_s_(start_s), pace_(pace) {}

    ~LockstepClock() override {
        // Destroying a handler destroys its coroutine, whose locals may remove other sleepers in turn.
        while (!sleepers_.empty()) {
            Sleeper& sleeper = *sleepers_.begin();
            sleepers_.erase(sleepers_.begin());
            delete &sleeper;
        }
    }

    double now_s() const override {
        // What comes from outside between two wake-ups comes at the time that a person sees.
        return waits_until_s_ ? std::clamp(pace_->now_s(), now_s_, *waits_until_s_) : now_s_;
    }

    Task<void> sleep_until(double time_s) override {
        return asio::async_initiate<const asio::use_awaitable_t<>, void(error_code)>(
            [this, time_s](auto handler) { add<false>(time_s, nullptr, std::move(handler)); },
            asio::use_awaitable);
    }

    Task<bool> alarm_wait(double time_s, Sleeper** owner) {
        return asio::async_initiate<const asio::use_awaitable_t<>, void(error_code, bool)>(
            [this, time_s, owner](auto handler) { add<true>(time_s, owner, std::move(handler)); },
            asio::use_awaitable);
    }

    std::unique_ptr<Alarm> make_alarm() override;

    void wake(Sleeper& sleeper, error_code error, bool rung) {
        sleepers_.erase(sleepers_.iterator_to(sleeper));
        sleeper.wake(error, rung);
    }

    void run() override {
        const auto work = asio::make_work_guard(context_);
        context_.restart();
        stopped_ = false;
        while (true) {
            context_.poll();
            if (stopped_ || sleepers_.empty()) return;
            Sleeper& next = *sleepers_.begin();
            if (next.time_s() == std::numeric_limits<double>::infinity()) return;
            if (next.time_s() > now_s_) {
                if (pace_ && !waited(next.time_s())) continue;
                now_s_ = next.time_s();
            }
            wake(next, {}, false);
        }
    }

    void stop() override {
        stopped_ = true;
        context_.stop();
    }

private:
    // False: something from outside came first.
    bool waited(double time_s) {
        const auto due = pace_->real_time(time_s);
        if (Pace::RealClock::now() < due) {
            waits_until_s_ = time_s;
            const bool came = context_.run_one_until(due) > 0;
            now_s_ = now_s();
            waits_until_s_.reset();
            if (came || stopped_) return false;
        }
        pace_->arrive(time_s);
        return true;
    }

    template <bool tells_rung, class Handler>
    void add(double time_s, Sleeper** owner, Handler handler) {
        // A time that is not a number would break the set's order; it means "at once".
        const double at_s = std::isnan(time_s) ? now_s_ : time_s;
        auto slot = asio::get_associated_cancellation_slot(handler);
        Sleeper* sleeper =
            new SleeperWith<tells_rung, Handler>(at_s, next_order_++, owner, std::move(handler));
        sleepers_.insert(*sleeper);
        if (slot.is_connected()) {
            slot.assign([this, sleeper](asio::cancellation_type) {
                wake(*sleeper, asio::error::operation_aborted, false);
            });
        }
    }

    asio::io_context& context_;
    intrusive::set<Sleeper> sleepers_;
    std::uint64_t next_order_ = 0;
    double now_s_;
    std::optional<Pace> pace_;
    std::optional<double> waits_until_s_;
    bool stopped_ = false;
};

class LockstepAlarm final : public Alarm {
public:
    explicit LockstepAlarm(LockstepClock& clock) : clock_(clock) {}

    Task<bool> wait_until(double time_s) override {
        // A ring that came earlier ends the wait at once: the clock is asked for a time already past.
        if (rung_) return take_ring();
        return clock_.alarm_wait(time_s, &sleeper_);
    }

    void ring() override {
        if (sleeper_) {
            clock_.wake(*sleeper_, {}, true);
        } else {
            rung_ = true;
        }
    }

private:
    Task<bool> take_ring() {
        rung_ = false;
        co_return true;
    }

    LockstepClock& clock_;
    Sleeper* sleeper_ = nullptr;
    bool rung_ = false;
};

std::unique_ptr<Alarm> LockstepClock::make_alarm() {
    return std::make_unique<LockstepAlarm>(*this);
}

}  // namespace

std::unique_ptr<Clock> make_lockstep_clock(boost::asio::io_context& context, double start_s) {
    return std::make_unique<LockstepClock>(context, start_s);
}

std::unique_ptr<Clock> make_paced_clock(boost::asio::io_context& context, double speed, double start_s) {
    return std::make_unique<LockstepClock>(context, start_s, Pace(speed, start_s));
}

}  // namespace tipwright::bench
