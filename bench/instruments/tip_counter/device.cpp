#include <algorithm>
#include <deque>
#include <limits>
#include <optional>

#include "bench/instruments/asking_device.hpp"
#include "bench/instruments/decimal.hpp"
#include "bench/instruments/tip_counter/clock_fit.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"
#include "bench/instruments/tip_counter/protocol.hpp"

namespace tipwright::bench {

namespace {

// Edges that nobody fetched. None is dropped: beyond this the run has lost its hold on the bench.
constexpr std::size_t unread_limit = 100000;

ClockFit new_fit(const TipCounterProfile& profile) {
    constexpr double window_s = 1800;
    constexpr double settling_s = 300;
    return ClockFit(window_s, settling_s, profile.drift_limit_ppm * 1e-6);
}

class CounterDevice final : public AskingDevice {
public:
    CounterDevice(std::shared_ptr<const TipCounterProfile> profile, std::unique_ptr<Link> link,
                  Clock& its_clock, std::string name)
        : AskingDevice(std::move(link), its_clock, std::move(name)),
          profile_(std::move(profile)),
          arrived_(its_clock.make_alarm()),
          fit_(new_fit(*profile_)),
          heard_s_(its_clock.now_s()) {}

    Task<Result<ContactEdge>> next() {
        while (events_.empty()) {
            if (lost() && !reopening()) co_return *lost();
            const double deadline_s = heard_s_ + profile_->silence_s;
            const bool rung = co_await arrived_->wait_until(deadline_s);
            if (!rung && events_.empty() && clock().now_s() >= heard_s_ + profile_->silence_s) {
                if (lost()) co_return *lost();
                heard_s_ = clock().now_s();  // a later call waits anew
                co_return Fault{FaultCode::counter_silent,
                                "sent no whole line for " + decimal_text(profile_->silence_s, 1) + " s",
                                name(), "check power and cable of the counter"};
            }
        }
        Result<ContactEdge> event = std::move(events_.front());
        events_.pop_front();
        co_return event;
    }

private:
    Task<Result<std::string>> ask_identity() override {
        if (!profile_->answers_identity) co_return unidentified(name());
        Question question;
        question.message = counter_question;
        question.what = "the question who it is";
        constexpr AskTimes times;
        const Outcome asked = co_await ask(question, times);
        if (!asked) co_return asked.fault();
        co_return identity_;
    }

    std::size_t take_bytes(std::span<const std::byte> bytes, double arrived_s) override {
        std::size_t done = 0;
        while (true) {
            const CounterParse parse = parse_counter(bytes.subspan(done));
            done += parse.consumed;
            if (parse.kind == CounterParse::Kind::need_more) return done;
            if (parse.kind == CounterParse::Kind::line) take_line(parse.line, arrived_s);
        }
    }

    void take_line(const CounterLine& line, double arrived_s) {
        heard_s_ = arrived_s;
        if (last_) {
            const std::uint32_t step = line.sequence - last_->sequence;
            if (step == 0 && line.device_us == last_->device_us) return;  // the same line twice
            if (!follows(line)) return restart(line, arrived_s);
            if (step > 1) report_lost(step - 1, arrived_s);
        } else {
            first_us_ = line.device_us;
        }
        last_ = line;
        last_->identity = {};
        const double device_s = static_cast<double>(line.device_us - first_us_) * 1e-6;
        fit_.add(device_s, arrived_s);
        if (!line.identity.empty()) {
            identity_.assign(line.identity);
            if (waiting() != nullptr) answer_came();
        }
        if (!line.is_edge()) return;
        ContactEdge edge;
        edge.contact = line.contact;
        edge.closed = line.closed;
        // The fit moves as it learns; time does not run backwards for that.
        edge.time_s = std::max(fit_.bench_time_s(device_s), last_edge_s_);
        edge.device_us = line.device_us;
        edge.sequence = line.sequence;
        last_edge_s_ = edge.time_s;
        add(edge);
    }

    bool follows(const CounterLine& line) const {
        if (line.device_us < last_->device_us) return false;
        // Half the range ahead is not ahead but back.
        return line.sequence - last_->sequence < 0x80000000u;
    }

    void restart(const CounterLine& line, double arrived_s) {
        add(Fault{FaultCode::garbled_answer,
                  "the counter was started anew: after line " + std::to_string(last_->sequence) +
                      " came line " + std::to_string(line.sequence) + " at " + decimal_text(arrived_s, 1) +
                      " s",
                  name(), "check its power supply; tips may be missing"});
        fit_ = new_fit(*profile_);
        last_.reset();
        take_line(line, arrived_s);
    }

    void report_lost(std::uint32_t count, double arrived_s) {
        add(Fault{FaultCode::garbled_answer,
                  std::to_string(count) + (count == 1 ? " line" : " lines") +
                      " of the counter got lost before line " + std::to_string(last_->sequence + count + 1) +
                      " at " + decimal_text(arrived_s, 1) + " s",
                  name(), "check cable and line speed; tips may be missing"});
    }

    void add(Result<ContactEdge> event) {
        if (events_.size() == unread_limit) return;
        if (events_.size() + 1 == unread_limit) {
            event = Fault{FaultCode::garbled_answer, "more edges than anybody fetches", name(),
                          "check the contact for bounce"};
        }
        events_.push_back(std::move(event));
        arrived_->ring();
    }

    void link_was_lost() override {
        arrived_->ring();
        AskingDevice::link_was_lost();
    }
    // Lines lost meanwhile are seen by their numbers.
    double reopen_limit_s() const override { return profile_->silence_s; }

    std::shared_ptr<const TipCounterProfile> profile_;
    std::unique_ptr<Alarm> arrived_;
    std::deque<Result<ContactEdge>> events_;
    ClockFit fit_;
    std::optional<CounterLine> last_;
    std::string identity_;
    std::uint64_t first_us_ = 0;
    double heard_s_;
    double last_edge_s_ = -std::numeric_limits<double>::infinity();
};

class LineCounter final : public TipCounter {
public:
    explicit LineCounter(std::shared_ptr<CounterDevice> device) : device_(std::move(device)) {}
    LineCounter(const LineCounter&) = delete;
    LineCounter& operator=(const LineCounter&) = delete;
    ~LineCounter() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }
    Task<Result<ContactEdge>> next() override { return device_->next(); }

private:
    std::shared_ptr<CounterDevice> device_;
};

}  // namespace

std::unique_ptr<TipCounter> make_line_counter(std::shared_ptr<const TipCounterProfile> profile,
                                              std::unique_ptr<Link> link, Clock& clock,
                                              boost::asio::io_context& context, std::string name) {
    auto device =
        std::make_shared<CounterDevice>(std::move(profile), std::move(link), clock, std::move(name));
    device->start_reading(context);
    return std::make_unique<LineCounter>(std::move(device));
}

}  // namespace tipwright::bench
