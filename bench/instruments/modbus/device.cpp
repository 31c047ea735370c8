#include <cmath>
#include <limits>

#include "bench/instruments/decimal.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/plausible.hpp"

namespace tipwright::bench {

namespace {

class ModbusDevice final : public AskingDevice {
public:
    ModbusDevice(ModbusProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link, Clock& its_clock,
                 std::string name)
        : AskingDevice(std::move(link), its_clock, std::move(name), std::move(stops)),
          profile_(std::move(profile)) {}

    const ModbusProfile& profile() const { return *profile_; }

    Task<Result<std::vector<std::uint16_t>>> exchange(ModbusRequest request, std::string_view what,
                                                      bool survives_loss, bool stops = false) {
        ModbusQuestion question;
        question.message = modbus_frame(request);
        question.what = what;
        question.survives_loss = survives_loss;
        question.stops = stops;
        question.request = &request;
        const Outcome asked = co_await ask(question, profile_->times);
        if (!asked) co_return asked.fault();
        co_return std::move(question.values);
    }

    // The writes one after the other; `taken` goes where no fixed value is given.
    Task<Outcome> write(const ModbusWrites& writes, std::string_view what, double taken, bool survives_loss) {
        if (writes.empty()) {
            co_return Fault{FaultCode::inconsistent, "its profile has no entry for " + std::string(what),
                            name(), "add it to the profile"};
        }
        for (const ModbusWrite& write : writes) {
            const double number = write.value ? *write.value : taken / write.scale;
            auto registers = modbus_registers_of(write.type, number, profile_->low_word_first);
            if (!registers) {
                co_return Fault{FaultCode::bad_value,
                                std::string(what) + ": " + decimal_text(taken, 3) +
                                    " divided by its scale does not fit its register",
                                name(), "check scale and type in its profile"};
            }
            ModbusRequest request = to_unit();
            request.function = write.function;
            request.address = static_cast<std::uint16_t>(write.address);
            request.values = std::move(*registers);
            const auto answer =
                co_await exchange(std::move(request), what, survives_loss, &writes == &profile_->stop);
            if (!answer) co_return answer.fault();
        }
        co_return Done{};
    }

    Task<Outcome> stop() { return write(profile_->stop, "the command to stop", 0, true); }

    Task<Result<std::vector<std::uint16_t>>> read(ModbusRegisters registers, std::string_view what) {
        ModbusRequest request = to_unit();
        request.function = registers.function;
        request.address = static_cast<std::uint16_t>(registers.address);
        request.count = static_cast<std::uint16_t>(registers.count);
        return exchange(std::move(request), what, true);
    }

    Task<Result<std::vector<std::uint16_t>>> read_block() {
        const ModbusBlock& block = profile_->block;
        return read(ModbusRegisters{block.function, block.address, block.count},
                    "the question for a reading");
    }

    double value_of(const ModbusQuantity& quantity, std::span<const std::uint16_t> block) const {
        const auto at = static_cast<std::size_t>(quantity.address - profile_->block.address);
        const double number = modbus_number(quantity.type, block.subspan(at), profile_->low_word_first);
        return quantity.scale * number + quantity.offset;
    }

private:
    Task<Result<std::string>> ask_identity() override {
        if (!profile_->identity) co_return unidentified(name());
        const auto registers = co_await read(*profile_->identity, "the question who it is");
        if (!registers) co_return registers.fault();
        std::string text = modbus_text(*registers);
        if (text.empty()) {
            co_return Fault{FaultCode::garbled_answer, "its identity is not text", name(),
                            "check function, register and count of [identity] in its profile"};
        }
        co_return text;
    }

    struct ModbusQuestion : Question {
        const ModbusRequest* request = nullptr;
        std::vector<std::uint16_t> values;
    };

    ModbusRequest to_unit() const {
        ModbusRequest request;
        request.unit = profile_->unit;
        return request;
    }

    std::size_t take_bytes(std::span<const std::byte> bytes, double) override {
        note_line_busy();
        std::size_t done = 0;
        while (auto* question = static_cast<ModbusQuestion*>(waiting())) {
            if (question->answered) break;
            ModbusParse parse = parse_modbus(bytes.subspan(done), *question->request);
            done += parse.consumed;
            switch (parse.kind) {
                case ModbusParse::Kind::need_more:
                    return done;
                case ModbusParse::Kind::dropped:
                    question->unread = "bytes that are not a response";
                    break;
                case ModbusParse::Kind::exception:
                    refusal_came(std::string(modbus_exception_text(parse.exception)));
                    break;
                case ModbusParse::Kind::response:
                    question->values = std::move(parse.values);
                    answer_came();
                    break;
            }
        }
        // What nobody asked for is the late answer to a question that was given up.
        return bytes.size();
    }

    double reopen_limit_s() const override { return can_be_stopped() ? 600 : 5; }
    Task<Outcome> ask_to_stop() override { return stop(); }

    ModbusProfilePtr profile_;
};

using DevicePtr = std::shared_ptr<ModbusDevice>;

DevicePtr make_device(ModbusProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                      boost::asio::io_context& context, std::string name, StopMessages stops = {}) {
    auto device = std::make_shared<ModbusDevice>(std::move(profile), std::move(stops), std::move(link), clock,
                                                 std::move(name));
    device->start_reading(context);
    return device;
}

class ModbusPump final : public Pump {
public:
    explicit ModbusPump(DevicePtr device) : device_(std::move(device)) {}
    ModbusPump(const ModbusPump&) = delete;
    ModbusPump& operator=(const ModbusPump&) = delete;
    ~ModbusPump() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }
    Task<Outcome> stop() override { return device_->stop(); }
    Task<Outcome> set_drain(bool open) override {
        return device_->write(open ? device_->profile().drain_open : device_->profile().drain_close,
                              open ? "the command to open the drain" : "the command to close the drain", 0,
                              false);
    }

    double longest_answer_s() const override { return device_->profile().times.answer_s; }
    double own_timeout_s() const override { return device_->profile().own_timeout_s; }
    Task<Outcome> arm_own_timeout() override {
        return device_->write(device_->profile().arm, "the command to arm its time limit", own_timeout_s(),
                              true);
    }
    // Any other request that waits for its response is a keep-alive as good, and is not preempted.
    Task<Outcome> keep_alive() override {
        if (own_timeout_s() <= 0 || device_->asked()) co_return Done{};
        const ModbusProfile& profile = device_->profile();
        constexpr const char* what = "the keep-alive";
        if (profile.keep_alive_read) {
            const auto answer = co_await device_->read(*profile.keep_alive_read, what);
            co_return answer ? Outcome(Done{}) : Outcome(answer.fault());
        }
        const Outcome outcome = co_await device_->write(profile.keep_alive, what, 0, true);
        co_return outcome;
    }
    Task<Outcome> check_identity() override { return device_->check_identity(); }

protected:
    Task<Outcome> send_flow(double flow_mL_min) override {
        if (Outcome possible = check_flow(flow_mL_min, name()); !possible) co_return possible;
        const Outcome outcome = co_await device_->write(device_->profile().set_flow,
                                                        "the command for the flow", flow_mL_min, false);
        co_return outcome;
    }

private:
    DevicePtr device_;
};

class ModbusBalance final : public Balance {
public:
    explicit ModbusBalance(DevicePtr device) : device_(std::move(device)) {}
    ModbusBalance(const ModbusBalance&) = delete;
    ModbusBalance& operator=(const ModbusBalance&) = delete;
    ~ModbusBalance() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }

    Task<Result<WeightReading>> next() override {
        co_await device_->clock().sleep_until(next_question_s_);
        next_question_s_ = device_->clock().now_s() + device_->profile().poll_interval_s;
        const auto block = co_await device_->read_block();
        if (!block) co_return block.fault();
        co_return reading(*block);
    }

    Task<Outcome> tare() override {
        return device_->write(device_->profile().tare, "the command to tare", 0, true);
    }
    double longest_pause_s() const override {
        const auto& profile = device_->profile();
        return profile.poll_interval_s + profile.times.answer_s * (profile.times.retries + 1);
    }

private:
    Result<WeightReading> reading(const std::vector<std::uint16_t>& registers) const {
        const ModbusBlock& block = device_->profile().block;
        const ModbusQuantity& mass = block.quantities.front();
        WeightReading reading;
        if (block.status_address) {
            const int status = registers[static_cast<std::size_t>(*block.status_address - block.address)];
            if ((status & block.overload_bits) != 0) {
                return Fault{FaultCode::overload, "the balance is overloaded", name(),
                             "take the load off; use a lighter vessel or a balance of larger capacity"};
            }
            reading.stable = block.stable_bits != 0 && (status & block.stable_bits) == block.stable_bits;
        }
        const double value = device_->value_of(mass, registers);
        if (!std::isfinite(value) || std::abs(value) > 1e6) {
            return Fault{FaultCode::garbled_answer, "the mass read is not a number", name(),
                         "check type and word order in its profile"};
        }
        const int to_grams = mass.field == "mass_kg" ? -3 : mass.field == "mass_mg" ? 3 : 0;
        // The decimal digits of the display, as if it had been read as text.
        reading.text = decimal_text(value, mass.decimals) + " " + mass.field.substr(5);
        const auto shown = scan_decimal(reading.text);
        if (!shown) return Fault{FaultCode::garbled_answer, "the mass read is not a number", name(), ""};
        reading.decimals = mass.decimals + to_grams;
        reading.mass_g = scaled(shown->digits, reading.decimals);
        reading.arrived_s = device_->clock().now_s();
        return reading;
    }

    DevicePtr device_;
    double next_question_s_ = -std::numeric_limits<double>::infinity();
};

class ModbusClimate final : public ClimateSensor {
public:
    explicit ModbusClimate(DevicePtr device) : device_(std::move(device)) {}
    ModbusClimate(const ModbusClimate&) = delete;
    ModbusClimate& operator=(const ModbusClimate&) = delete;
    ~ModbusClimate() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }

    Task<Result<ClimateReading>> read() override {
        const auto block = co_await device_->read_block();
        if (!block) co_return block.fault();
        ClimateReading reading;
        for (const ModbusQuantity& quantity : device_->profile().block.quantities) {
            if (!set_climate(reading, quantity.field, device_->value_of(quantity, *block))) {
                co_return Fault{FaultCode::garbled_answer, "the " + quantity.field + " read is not possible",
                                name(), "check scale, type and word order in its profile"};
            }
        }
        reading.arrived_s = device_->clock().now_s();
        co_return reading;
    }

private:
    DevicePtr device_;
};

}  // namespace

std::unique_ptr<Pump> make_modbus_pump(ModbusProfilePtr profile, StopMessages stops,
                                       std::unique_ptr<Link> link, Clock& clock,
                                       boost::asio::io_context& context, std::string name) {
    return std::make_unique<ModbusPump>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name), std::move(stops)));
}

std::unique_ptr<Balance> make_modbus_balance(ModbusProfilePtr profile, std::unique_ptr<Link> link,
                                             Clock& clock, boost::asio::io_context& context,
                                             std::string name) {
    return std::make_unique<ModbusBalance>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name)));
}

std::unique_ptr<ClimateSensor> make_modbus_climate(ModbusProfilePtr profile, std::unique_ptr<Link> link,
                                                   Clock& clock, boost::asio::io_context& context,
                                                   std::string name) {
    return std::make_unique<ModbusClimate>(
        make_device(std::move(profile), std::move(link), clock, context, std::move(name)));
}

}  // namespace tipwright::bench
