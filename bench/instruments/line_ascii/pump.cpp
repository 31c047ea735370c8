#include "bench/instruments/line_ascii/device.hpp"
#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/plausible.hpp"

namespace tipwright::bench {

namespace {

constexpr std::string_view stop_words = "the command to stop";

Outcome outcome_of(const Result<std::string>& answer) {
    if (!answer) return answer.fault();
    return Done{};
}

class LinePumpDevice final : public LineDevice {
public:
    using LineDevice::LineDevice;

private:
    double reopen_limit_s() const override { return 600; }
    Task<Outcome> ask_to_stop() override {
        const Result<std::string> answer = co_await exchange(profile().stop, stop_words);
        co_return outcome_of(answer);
    }
};

class LinePump final : public Pump {
public:
    LinePump(LineProfilePtr profile, std::shared_ptr<LineDevice> device)
        : profile_(std::move(profile)), device_(std::move(device)) {}
    LinePump(const LinePump&) = delete;
    LinePump& operator=(const LinePump&) = delete;
    ~LinePump() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }

    Task<Outcome> stop() override {
        Result<std::string> answer = co_await device_->exchange(profile_->stop, stop_words);
        co_return outcome_of(answer);
    }

    Task<Outcome> set_drain(bool open) override {
        const LineCommand& command = open ? profile_->drain_open : profile_->drain_close;
        const char* what = open ? "the command to open the drain" : "the command to close the drain";
        Result<std::string> answer = co_await device_->exchange(command, what);
        co_return outcome_of(answer);
    }

    double longest_answer_s() const override { return profile_->answer_s; }
    double own_timeout_s() const override { return profile_->own_timeout_s; }

    Task<Outcome> arm_own_timeout() override {
        LineDevice::SentValues values;
        values.emplace_back("timeout_s", profile_->own_timeout_s);
        Result<std::string> answer =
            co_await device_->exchange(profile_->arm, "the command to arm its time limit", std::move(values));
        co_return outcome_of(answer);
    }

    // Any other command that waits for its answer is a keep-alive as good, and is not preempted.
    Task<Outcome> keep_alive() override {
        if (own_timeout_s() <= 0 || device_->asked()) co_return Done{};
        Result<std::string> answer = co_await device_->exchange(profile_->keep_alive, "the keep-alive");
        co_return outcome_of(answer);
    }
    Task<Outcome> check_identity() override { return device_->check_identity(); }

protected:
    Task<Outcome> send_flow(double flow_mL_min) override {
        if (Outcome possible = check_flow(flow_mL_min, name()); !possible) co_return possible;
        LineDevice::SentValues values;
        values.emplace_back("flow_mL_min", flow_mL_min);
        Result<std::string> answer =
            co_await device_->exchange(profile_->set_flow, "the command for the flow", std::move(values));
        co_return outcome_of(answer);
    }

private:
    LineProfilePtr profile_;
    std::shared_ptr<LineDevice> device_;
};

}  // namespace

std::unique_ptr<Pump> make_line_pump(LineProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link,
                                     Clock& clock, boost::asio::io_context& context, std::string name) {
    auto device =
        std::make_shared<LinePumpDevice>(profile, std::move(link), clock, std::move(name), std::move(stops));
    device->start_reading(context);
    return std::make_unique<LinePump>(std::move(profile), std::move(device));
}

}  // namespace tipwright::bench
