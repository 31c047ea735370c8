#include "bench/program/instruments/lone_pump.hpp"

#include <limits>
#include <utility>

#include <boost/asio/experimental/awaitable_operators.hpp>

namespace tipwright::program {

namespace {

constexpr double forever = std::numeric_limits<double>::infinity();

class NoBalance final : public bench::Balance {
public:
    explicit NoBalance(bench::Clock& clock) : clock_(clock) {}
    std::string name() const override { return "balance"; }
    bench::Task<Result<bench::WeightReading>> next() override {
        const auto never = clock_.make_alarm();
        for (;;) co_await never->wait_until(forever);
    }
    bench::Task<Outcome> tare() override { co_return bench::unidentified("balance"); }
    // Nobody waits for its readings.
    double longest_pause_s() const override { return forever; }

private:
    bench::Clock& clock_;
};

class NoCounter final : public bench::TipCounter {
public:
    explicit NoCounter(bench::Clock& clock) : clock_(clock) {}
    std::string name() const override { return "counter"; }
    bench::Task<Result<bench::ContactEdge>> next() override {
        const auto never = clock_.make_alarm();
        for (;;) co_await never->wait_until(forever);
    }

private:
    bench::Clock& clock_;
};

}  // namespace

struct LonePump::Absent {
    explicit Absent(bench::Clock& clock) : balance(clock), counter(clock) {}
    NoBalance balance;
    NoCounter counter;
    calib::Gauge gauge;
    bench::BenchDescription bench;
};

LonePump::LonePump(boost::asio::io_context& context, bench::Clock& clock, std::unique_ptr<bench::Pump> pump,
                   bench::Supervision& supervision, bench::RunControl& control,
                   std::function<void(const std::string&)> tell, bench::KnownIdentities identities)
    : absent_(std::make_unique<Absent>(clock)), pump_(std::move(pump)) {
    guard_ = std::make_unique<bench::WaterGuard>(
        context, clock,
        bench::Lane{*pump_, absent_->balance, absent_->counter, nullptr, std::nullopt, std::move(identities)},
        absent_->gauge, absent_->bench, supervision, control, nullptr, nullptr, std::move(tell));
}

LonePump::~LonePump() = default;

bench::Task<Outcome> LonePump::carry_out(std::function<bench::Task<Outcome>()> work) {
    using namespace boost::asio::experimental::awaitable_operators;
    Outcome outcome = Done{};
    std::exception_ptr defect;
    const auto do_work = [&]() -> bench::Task<void> {
        try {
            outcome = co_await guard_->carry_out(work);
        } catch (...) {
            defect = std::current_exception();
        }
    };
    co_await (do_work() || guard_->keep_pump_alive());
    const Outcome stopped = co_await guard_->make_safe();
    if (defect) std::rethrow_exception(defect);
    if (!outcome || stopped) co_return outcome;
    co_return stopped;
}

}  // namespace tipwright::program
