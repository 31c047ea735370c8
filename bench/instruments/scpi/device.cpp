#include <cmath>
#include <limits>

#include "bench/instruments/decimal.hpp"
#include "bench/instruments/line_frame.hpp"
#include "bench/instruments/plausible.hpp"
#include "bench/instruments/scpi/instruments.hpp"
#include "bench/instruments/scpi/protocol.hpp"

namespace tipwright::bench {

namespace {

class ScpiDevice final : public AskingDevice {
public:
    ScpiDevice(ScpiProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link, Clock& its_clock,
               std::string name)
        : AskingDevice(std::move(link), its_clock, std::move(name), std::move(stops)),
          profile_(std::move(profile)) {}

    const ScpiProfile& profile() const { return *profile_; }

    // A query and the line that answers it. `wanted` elements, or any number with 0.
    Task<Result<std::string>> query(std::string text, std::string_view what, std::size_t wanted,
                                    bool survives_loss, bool stops = false) {
        ScpiQuestion question;
        question.message = text + profile_->send_ending;
        question.what = what;
        question.wanted = wanted;
        question.survives_loss = survives_loss;
        question.stops = stops;
        const Outcome asked = co_await ask(question, profile_->times);
        if (!asked) co_return asked.fault();
        co_return std::move(question.answer);
    }

    // A command, in one message with *OPC? so that its end is known; then the error queue.
    // `taken` goes where the command has its number.
    Task<Outcome> command(const std::optional<Pattern>& pattern, std::string_view what, double taken,
                          bool survives_loss) {
        if (!pattern) {
            co_return Fault{FaultCode::inconsistent, "its profile has no entry for " + std::string(what),
                            name(), "add it to the profile"};
        }
        std::vector<std::pair<std::string_view, double>> values;
        if (!pattern->fields().empty()) values.emplace_back(pattern->fields().front(), taken);
        std::string message = pattern->print(values) + ";*OPC?";
        const bool stops = &pattern == &profile_->stop;
        const Result<std::string> done = co_await query(std::move(message), what, 1, survives_loss, stops);
        if (!done) co_return done.fault();
        const auto flag = read_scpi_number(*done);
        if (!flag || flag->value != 1) {
            co_return Fault{FaultCode::garbled_answer,
                            "answered " + in_quotes(*done) + " to " + std::string(what), name(),
                            "check line speed and its profile"};
        }
        if (!profile_->asks_for_errors) co_return Done{};
        std::string ask_errors = "SYST:ERR?";
        const Result<std::string> answer =
            co_await query(std::move(ask_errors), what, 2, survives_loss, stops);
        if (!answer) co_return answer.fault();
        const auto error = read_scpi_error(*answer);
        if (!error) {
            co_return Fault{FaultCode::garbled_answer, "answered " + in_quotes(*answer) + " to SYST:ERR?",
                            name(), "set ask_for_errors = false in its profile if it does not know this"};
        }
        if (error->code != 0) {
            co_return Fault{FaultCode::refused,
                            "refused " + std::string(what) + ": error " + std::to_string(error->code) + ", " +
                                in_quotes(error->text),
                            name(), "check the range the instrument allows, and its profile"};
        }
        co_return Done{};
    }

    Task<Outcome> stop() { return command(profile_->stop, "the command to stop", 0, true); }

private:
    // IEEE 488.2-1992, 10.14: every instrument knows *IDN?, and answers with four elements.
    Task<Result<std::string>> ask_identity() override {
        std::string ask_identity = "*IDN?";
        constexpr std::size_t elements = 4;
        return query(std::move(ask_identity), "the question who it is", elements, true);
    }

    struct ScpiQuestion : Question {
        std::size_t wanted = 0;
        std::string answer;
    };

    std::size_t take_bytes(std::span<const std::byte> bytes, double) override {
        std::size_t done = 0;
        while (true) {
            const LineFrame frame = next_line(bytes.subspan(done));
            done += frame.consumed;
            if (frame.kind == LineFrame::Kind::need_more) return done;
            auto* question = static_cast<ScpiQuestion*>(waiting());
            if (!question || question->answered) continue;
            if (frame.kind == LineFrame::Kind::line && split_scpi(frame.text).size() == question->wanted) {
                question->answer.assign(frame.text);
                answer_came();
            } else {
                question->unread.assign(frame.kind == LineFrame::Kind::line ? frame.text
                                                                            : "a line without end");
            }
        }
    }

    double reopen_limit_s() const override { return can_be_stopped() ? 600 : 5; }
    Task<Outcome> ask_to_stop() override { return stop(); }

    ScpiProfilePtr profile_;
};

using DevicePtr = std::shared_ptr<ScpiDevice>;

DevicePtr make_device(ScpiProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                      boost::asio::io_context& context, std::string name, StopMessages stops = {}) {
    auto device = std::make_shared<ScpiDevice>(std::move(profile), std::move(stops), std::move(link), clock,
                                               std::move(name));
    device->start_reading(context);
    return device;
}

class ScpiPump final : public Pump {
public:
    explicit ScpiPump(DevicePtr device) : device_(std::move(device)) {}
    ScpiPump(const ScpiPump&) = delete;
    ScpiPump& operator=(const ScpiPump&) = delete;
    ~ScpiPump() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }
    Task<Outcome> stop() override { return device_->stop(); }
    Task<Outcome> set_drain(bool open) override {
        return device_->command(open ? device_->profile().drain_open : device_->profile().drain_close,
                                open ? "the command to open the drain" : "the command to close the drain", 0,
                                false);
    }

    double longest_answer_s() const override { return device_->profile().times.answer_s; }
    double own_timeout_s() const override { return device_->profile().own_timeout_s; }
    Task<Outcome> arm_own_timeout() override {
        return device_->command(device_->profile().arm, "the command to arm its time limit", own_timeout_s(),
                                true);
    }
    // Any other message that waits for its answer is a keep-alive as good, and is not preempted.
    Task<Outcome> keep_alive() override {
        if (own_timeout_s() <= 0 || device_->asked()) co_return Done{};
        constexpr const char* what = "the keep-alive";
        if (device_->profile().keep_alive) {
            const Outcome outcome = co_await device_->command(device_->profile().keep_alive, what, 0, true);
            co_return outcome;
        }
        // IEEE 488.2-1992 asks it of every instrument.
        std::string ask_complete = "*OPC?";
        const Result<std::string> answer = co_await device_->query(std::move(ask_complete), what, 1, true);
        co_return answer ? Outcome(Done{}) : Outcome(answer.fault());
    }
    Task<Outcome> check_identity() override { return device_->check_identity(); }

protected:
    Task<Outcome> send_flow(double flow_mL_min) override {
        if (Outcome possible = check_flow(flow_mL_min, name()); !possible) co_return possible;
        const Outcome outcome = co_await device_->command(device_->profile().set_flow,
                                                          "the command for the flow", flow_mL_min, false);
        co_return outcome;
    }

private:
    DevicePtr device_;
};

// One reading: the response's elements, each with the field it is.
Task<Result<std::string>> ask_for_reading(ScpiDevice& device) {
    return device.query(device.profile().read->print({}), "the question for a reading",
                        device.profile().elements.size(), true);
}

class ScpiBalance final : public Balance {
public:
    explicit ScpiBalance(DevicePtr device) : device_(std::move(device)) {}
    ScpiBalance(const ScpiBalance&) = delete;
    ScpiBalance& operator=(const ScpiBalance&) = delete;
    ~ScpiBalance() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }

    Task<Result<WeightReading>> next() override {
        co_await device_->clock().sleep_until(next_question_s_);
        next_question_s_ = device_->clock().now_s() + device_->profile().poll_interval_s;
        const Result<std::string> line = co_await ask_for_reading(*device_);
        if (!line) co_return line.fault();
        co_return reading(*line);
    }

    Task<Outcome> tare() override {
        return device_->command(device_->profile().tare, "the command to tare", 0, true);
    }
    double longest_pause_s() const override {
        const auto& profile = device_->profile();
        return profile.poll_interval_s + profile.times.answer_s * (profile.times.retries + 1);
    }

private:
    Result<WeightReading> reading(const std::string& line) const {
        const ScpiProfile& profile = device_->profile();
        const ScpiElements texts = split_scpi(line);
        WeightReading reading;
        bool overloaded = false;
        for (std::size_t i = 0; i < texts.size(); ++i) {
            const std::string& field = profile.elements[i].field;
            if (field == "_") continue;
            const auto number = read_scpi_number(texts[i]);
            if (!number) return garbled(line);
            if (field == "status") {
                if (number->decimals != 0 || !(number->value >= 0 && number->value <= 65535))
                    return garbled(line);
                const int status = static_cast<int>(number->value);
                overloaded = overloaded || (status & profile.overload_bits) != 0;
                reading.stable =
                    profile.stable_bits != 0 && (status & profile.stable_bits) == profile.stable_bits;
                continue;
            }
            if (number->kind == ScpiNumber::Kind::infinite) overloaded = true;
            if (number->kind == ScpiNumber::Kind::not_a_number) return garbled(line);
            const int to_grams = field == "mass_kg" ? -3 : field == "mass_mg" ? 3 : 0;
            reading.decimals = number->decimals + to_grams;
            if (!overloaded &&
                (!(std::abs(number->value) <= 1e9) || number->decimals < -6 || number->decimals > 9))
                return garbled(line);
            // Through the decimal digits, so that 1.2340E-02 kg is 12.340 g and not nearly so.
            reading.text = decimal_text(number->value, std::max(number->decimals, 0));
            if (const auto shown = scan_decimal(reading.text)) {
                reading.mass_g = scaled(shown->digits, shown->decimals + to_grams);
            }
            reading.text += " " + field.substr(5);
        }
        if (overloaded) {
            return Fault{FaultCode::overload, "the balance is overloaded: it answers " + in_quotes(line),
                         name(), "take the load off; use a lighter vessel or a balance of larger capacity"};
        }
        reading.arrived_s = device_->clock().now_s();
        return reading;
    }

    Fault garbled(const std::string& line) const {
        return {FaultCode::garbled_answer, "answered " + in_quotes(line) + " to the question for a reading",
                name(), "check line speed and parity, and the values of its profile"};
    }

    DevicePtr device_;
    double next_question_s_ = -std::numeric_limits<double>::infinity();
};

class ScpiClimate final : public ClimateSensor {
public:
    explicit ScpiClimate(DevicePtr device) : device_(std::move(device)) {}
    ScpiClimate(const ScpiClimate&) = delete;
    ScpiClimate& operator=(const ScpiClimate&) = delete;
    ~ScpiClimate() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }

    Task<Result<ClimateReading>> read() override {
        const Result<std::string> line = co_await ask_for_reading(*device_);
        if (!line) co_return line.fault();
        const ScpiElements texts = split_scpi(*line);
        ClimateReading reading;
        for (std::size_t i = 0; i < texts.size(); ++i) {
            const std::string& field = device_->profile().elements[i].field;
            if (field == "_") continue;
            const auto number = read_scpi_number(texts[i]);
            if (!number || number->kind != ScpiNumber::Kind::value ||
                !set_climate(reading, field, number->value)) {
                co_return Fault{FaultCode::garbled_answer,
                                "answered " + in_quotes(*line) + " to the question for a reading", name(),
                                "check line speed and parity, and the values of its profile"};
            }
        }
        reading.arrived_s = device_->clock().now_s();
        co_return reading;
    }

private:
    DevicePtr device_;
};

}  // namespace

std::unique_ptr<Pump> make_scpi_pump(ScpiProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link,
                                     Clock& clock, boost::asio::io_context& context, std::string name) {
    return std::make_unique<ScpiPump>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name), std::move(stops)));
}

std::unique_ptr<Balance> make_scpi_balance(ScpiProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                                           boost::asio::io_context& context, std::string name) {
    return std::make_unique<ScpiBalance>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name)));
}

std::unique_ptr<ClimateSensor> make_scpi_climate(ScpiProfilePtr profile, std::unique_ptr<Link> link,
                                                 Clock& clock, boost::asio::io_context& context,
                                                 std::string name) {
    return std::make_unique<ScpiClimate>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name)));
}

}  // namespace tipwright::bench
