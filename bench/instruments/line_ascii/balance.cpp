#include <algorithm>
#include <deque>
#include <limits>

#include "bench/instruments/line_ascii/device.hpp"
#include "bench/instruments/line_ascii/instruments.hpp"

namespace tipwright::bench {

namespace {

// Readings that nobody fetched: older ones make room. More than a minute at eight prints a second.
constexpr std::size_t unread_limit = 512;

class LineBalanceDevice final : public LineDevice {
public:
    LineBalanceDevice(LineProfilePtr profile, std::unique_ptr<Link> link, Clock& its_clock, std::string name)
        : LineDevice(std::move(profile), std::move(link), its_clock, std::move(name)),
          arrived_(its_clock.make_alarm()) {}

    Task<Result<WeightReading>> next() {
        if (profile().read.send) return ask();
        return wait_for_print();
    }

    double longest_pause_s() const {
        const AskTimes asking = times();
        return profile().read.send ? profile().poll_interval_s + asking.answer_s * (asking.retries + 1)
                                   : profile().silence_s;
    }

    Task<Outcome> tare() {
        Result<std::string> answer = co_await exchange(profile().tare, "the command to tare");
        if (!answer) co_return answer.fault();
        readings_.clear();  // they belong to the time before
        co_return Done{};
    }

private:
    Task<Result<WeightReading>> wait_for_print() {
        const double deadline_s = clock().now_s() + profile().silence_s;
        while (readings_.empty()) {
            if (lost() && !reopening()) co_return *lost();
            const bool rung = co_await arrived_->wait_until(deadline_s);
            if (!rung && readings_.empty() && (unended_bytes() > 0 || bad_lines_ > 0)) {
                co_return Fault{FaultCode::garbled_answer,
                                "sent nothing but bytes that are not a reading for " +
                                    decimal_text(profile().silence_s, 1) + " s",
                                name(), "check line speed and parity, and the patterns of its profile"};
            }
            if (!rung && readings_.empty()) {
                if (lost()) co_return *lost();
                co_return Fault{FaultCode::no_answer,
                                "printed nothing for " + decimal_text(profile().silence_s, 1) + " s", name(),
                                "check power and cable, and that the balance is set to print by itself"};
            }
        }
        Result<WeightReading> reading = std::move(readings_.front());
        readings_.pop_front();
        co_return reading;
    }

    Task<Result<WeightReading>> ask() {
        co_await clock().sleep_until(next_question_s_);
        next_question_s_ = clock().now_s() + profile().poll_interval_s;
        Result<std::string> answer = co_await exchange(profile().read, "the question for a reading");
        if (!answer) co_return answer.fault();
        co_return std::move(polled_);
    }

    bool is_reading(const LineCommand& command, std::string_view line, double arrived_s) override {
        if (&command != &profile().read) return false;
        auto reading = reading_in(line, arrived_s);
        if (!reading) return false;
        polled_ = std::move(*reading);
        return true;
    }

    bool take_line(std::string_view line, double arrived_s) override {
        if (profile().read.send) return false;
        if (auto reading = reading_in(line, arrived_s)) {
            heard_ = true;
            bad_lines_ = 0;
            add(std::move(*reading));
            return true;
        }
        // The late answer to a command is no print; the first line after switching on is often half of one.
        if (is_answer(profile().tare, line, {}) || read_refusal(profile().refusals, line)) return true;
        if (heard_ && ++bad_lines_ > profile().bad_lines) {
            bad_lines_ = 0;
            add(Fault{FaultCode::garbled_answer, "printed " + in_quotes(line), name(),
                      "check line speed and parity, and the patterns of its profile"});
        }
        heard_ = true;
        return false;
    }

    void link_was_lost() override {
        LineDevice::link_was_lost();
        arrived_->ring();
    }

    // What is cut in two by a loss is no print.
    void link_was_reopened() override {
        heard_ = false;
        LineDevice::link_was_reopened();
    }

    // A gap in the readings is seen by their times, and no longer than silence may be.
    double reopen_limit_s() const override { return profile().silence_s; }

    std::optional<Result<WeightReading>> reading_in(std::string_view line, double arrived_s) const {
        WeightReading reading;
        switch (read_weight(profile().weights, line, reading)) {
            case WeightLine::none:
                return std::nullopt;
            case WeightLine::overload:
                return Fault{FaultCode::overload, "the balance is overloaded: it shows " + in_quotes(line),
                             name(),
                             "take the load off; use a lighter vessel or a balance of larger capacity"};
            case WeightLine::reading:
                break;
        }
        reading.arrived_s = arrived_s;
        return Result<WeightReading>(std::move(reading));
    }

    void add(Result<WeightReading> reading) {
        if (readings_.size() == unread_limit) readings_.pop_front();
        readings_.push_back(std::move(reading));
        arrived_->ring();
    }

    std::unique_ptr<Alarm> arrived_;
    std::deque<Result<WeightReading>> readings_;
    Result<WeightReading> polled_ = WeightReading{};
    double next_question_s_ = -std::numeric_limits<double>::infinity();
    int bad_lines_ = 0;
    bool heard_ = false;
};

class LineBalance final : public Balance {
public:
    explicit LineBalance(std::shared_ptr<LineBalanceDevice> device) : device_(std::move(device)) {}
    LineBalance(const LineBalance&) = delete;
    LineBalance& operator=(const LineBalance&) = delete;
    ~LineBalance() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }
    Task<Result<WeightReading>> next() override { return device_->next(); }
    Task<Outcome> tare() override { return device_->tare(); }
    double longest_pause_s() const override { return device_->longest_pause_s(); }

private:
    std::shared_ptr<LineBalanceDevice> device_;
};

}  // namespace

std::unique_ptr<Balance> make_line_balance(LineProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                                           boost::asio::io_context& context, std::string name) {
    auto device =
        std::make_shared<LineBalanceDevice>(std::move(profile), std::move(link), clock, std::move(name));
    device->start_reading(context);
    return std::make_unique<LineBalance>(std::move(device));
}

}  // namespace tipwright::bench
