#include "bench/virtual_bench/devices.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <span>
#include <utility>

#include "bench/instruments/modbus_crc.hpp"
#include "bench/instruments/virtual_identity.hpp"
#include "bench/virtual_bench/device_text.hpp"

namespace tipwright::bench {

namespace {

constexpr double answer_time_s = 0.005;
constexpr std::size_t longest_command = 64;
// A serial line without flow control: what nobody takes is lost beyond this.
constexpr std::size_t longest_backlog = std::size_t{64} * 1024;

std::string identity_of(std::string_view role) {
    return "ID " + std::string(virtual_identity) + std::string(role) + " 1";
}

class VirtualPump final : public VirtualDevice {
public:
    using VirtualDevice::VirtualDevice;

private:
    std::string answer(std::string_view command) override {
        if (timeout_s_ > 0) world().now().stop_pump_at(world().clock.now_s() + timeout_s_);
        if (command == "ID?") return identity_of("pump");
        constexpr std::string_view timeout = "TIMEOUT ";
        if (command.starts_with(timeout)) return set_timeout(command.substr(timeout.size()));
        if (world().fault_due(world().faults.pump_refuses_at_s)) return "ERR fault";
        if (command == "STOP") {
            world().now().command_flow(0);
            return "OK STOP";
        }
        if (command == "DRAIN OPEN" || command == "DRAIN CLOSE") {
            world().now().set_drain(command == "DRAIN OPEN");
            return "OK " + std::string(command);
        }
        constexpr std::string_view verb = "FLOW ";
        if (!command.starts_with(verb)) return "ERR unknown command";
        const std::string_view number = command.substr(verb.size());
        double flow_mL_min = 0;
        const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), flow_mL_min,
                                                  std::chars_format::fixed);
        if (error != std::errc{} || end != number.data() + number.size()) return "ERR not a number";
        if (!(flow_mL_min >= 0 && flow_mL_min <= world().truth.pump_max_mL_min))
            return "ERR flow out of range";
        world().now().command_flow(flow_mL_min);
        return "OK FLOW " + fixed_text(flow_mL_min, 3);
    }

    // From now on it stops when it hears nothing for so long.
    std::string set_timeout(std::string_view number) {
        double timeout_s = 0;
        const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), timeout_s,
                                                  std::chars_format::fixed);
        if (error != std::errc{} || end != number.data() + number.size()) return "ERR not a number";
        if (!(timeout_s >= 0.5 && timeout_s <= 600)) return "ERR timeout out of range";
        timeout_s_ = timeout_s;
        world().now().stop_pump_at(world().clock.now_s() + timeout_s_);
        return "OK TIMEOUT " + fixed_text(timeout_s, 1);
    }

    double timeout_s_ = 0;
};

class VirtualBalance final : public VirtualDevice {
public:
    VirtualBalance(std::shared_ptr<World> its_world, std::unique_ptr<Link> link, Random garbage)
        : VirtualDevice(std::move(its_world), std::move(link)),
          scale_(world().metrology.balance.resolution_g),
          garbage_(garbage) {}

    Task<void> print() override {
        const double rate_hz = world().truth.balance_rate_hz;
        double count = 0;
        while (rate_hz > 0) {
            // A late wake-up skips prints, it does not bunch them.
            count = std::max(count + 1, std::floor(world().clock.now_s() * rate_hz + 1e-6) + 1);
            co_await world().clock.sleep_until(count / rate_hz);
            const bool sent = co_await send(line());
            if (!sent) co_return;
        }
    }

private:
    std::string answer(std::string_view command) override {
        if (command == "ID?") return identity_of("balance");
        if (command == "W?") return reading();
        if (command != "TARE") return "ERR unknown command";
        BenchPhysics& physics = world().now();
        physics.balance().tare(physics.time_s());
        return "OK TARE";
    }

    std::string line() {
        std::string text = reading();
        if (world().fault_due(world().faults.balance_garbles_at_s)) return garbled();
        return text + "\r\n";
    }

    std::string reading() {
        BenchPhysics& physics = world().now();
        const BalanceDisplay display = physics.balance().show(physics.time_s());
        if (display.over) return "W over";
        std::string text = "W ";
        append_right(text, scale_.text(display.steps), 7);
        text += display.stable ? " g stable" : " g moving";
        return text;
    }

    // As from a wrong line speed: any bytes, line ends among them only by chance.
    std::string garbled() {
        std::string text;
        const int length = 8 + garbage_.below(14);
        for (int i = 0; i < length; ++i) text += static_cast<char>(garbage_.below(256));
        return text;
    }

    DisplayScale scale_;
    Random garbage_;
};

class VirtualCounter final : public VirtualDevice {
public:
    using VirtualDevice::VirtualDevice;

    Task<void> print() override {
        constexpr double heartbeat_s = 2;
        double next_heartbeat_s = 0;
        std::string lines;
        while (true) {
            BenchPhysics& physics = world().now();
            const double now_s = world().clock.now_s();
            lines.clear();
            while (const auto edge = physics.contacts().take_edge(now_s)) {
                std::string body = head('E', edge->time_s) + ' ' + std::to_string(edge->contact);
                body += edge->closed ? " 1" : " 0";
                lines += checked(body);
            }
            if (now_s >= next_heartbeat_s) {
                lines += checked(head('H', now_s));
                next_heartbeat_s = now_s + heartbeat_s;
            }
            if (!lines.empty() && !world().fault_due(world().faults.counter_silent_at_s)) {
                const bool sent = co_await send(lines);
                if (!sent) co_return;
            }
            // No contact can change sooner after a look than a movement needs to reach it.
            const double lead_s = std::max(physics.contacts().least_lead_s(), BenchPhysics::step_s);
            const double look_s = std::min(next_heartbeat_s, physics.time_s() + lead_s);
            co_await world().clock.sleep_until(
                std::min(look_s, physics.contacts().next_edge_s().value_or(look_s)));
        }
    }

private:
    std::string answer(std::string_view command) override {
        if (command != "ID?") return "ERR unknown command";
        return with_checksum(head('I', world().clock.now_s()) + " " + std::string(virtual_identity) +
                             "counter 1");
    }

    std::string head(char kind, double time_s) {
        const SystematicErrors& errors = world().physics.errors();
        double device_s = errors.counter_offset_s + time_s * (1 + errors.counter_rate_relative);
        const BenchFaults& faults = world().faults;
        if (faults.counter_clock_steps_at_s >= 0 && time_s >= faults.counter_clock_steps_at_s) {
            device_s = std::max(0.0, device_s + faults.counter_clock_step_s);
        }
        ++sequence_;
        return std::string(1, kind) + ' ' + std::to_string(sequence_) + ' ' +
               std::to_string(static_cast<std::uint64_t>(device_s * 1e6));
    }

    static std::string with_checksum(const std::string& body) {
        return body + " *" + hex4(crc16_modbus(body));
    }
    static std::string checked(const std::string& body) { return with_checksum(body) + "\r\n"; }

    std::uint32_t sequence_ = 0;
};

class VirtualClimate final : public VirtualDevice {
public:
    VirtualClimate(std::shared_ptr<World> its_world, std::unique_ptr<Link> link, Random dice)
        : VirtualDevice(std::move(its_world), std::move(link)), dice_(dice) {}

private:
    std::string answer(std::string_view command) override {
        if (command == "ID?") return identity_of("climate");
        if (command != "C?") return "ERR unknown command";
        const BenchTruth& truth = world().truth;
        const SystematicErrors& errors = world().physics.errors();
        const double water_C =
            truth.water_temperature_C + errors.water_temperature_offset_C + 0.01 * dice_.normal();
        const double air_C =
            truth.air_temperature_C + errors.air_temperature_offset_C + 0.02 * dice_.normal();
        const double pressure_hPa =
            truth.air_pressure_hPa + errors.air_pressure_offset_hPa + 0.05 * dice_.normal();
        const double humidity =
            truth.relative_humidity_percent + errors.relative_humidity_offset_percent + 0.1 * dice_.normal();
        return "water " + fixed_text(water_C, 2) + " C air " + fixed_text(air_C, 2) + " C pressure " +
               fixed_text(pressure_hPa, 1) + " hPa humidity " +
               fixed_text(std::clamp(humidity, 0.0, 100.0), 1) + " %";
    }

    Random dice_;
};

}  // namespace

VirtualDevice::VirtualDevice(std::shared_ptr<World> world, std::unique_ptr<Link> link)
    : world_(std::move(world)), link_(std::move(link)) {}

Task<void> VirtualDevice::print() {
    co_return;
}

Task<void> VirtualDevice::listen() {
    std::array<std::byte, 256> buffer{};
    std::string command;
    while (true) {
        const Result<std::size_t> got = co_await link_->read_some(buffer);
        if (!got) co_return;
        for (std::size_t i = 0; i < *got; ++i) {
            const char c = static_cast<char>(buffer[i]);
            if (c == '\n') continue;
            if (c != '\r') {
                if (command.size() <= longest_command) command += c;
                continue;
            }
            if (command.empty()) continue;
            co_await world().clock.sleep_for(answer_time_s);
            const std::string reply = command.size() > longest_command ? "ERR too long" : answer(command);
            command.clear();
            const bool sent = co_await send(reply + "\r\n");
            if (!sent) co_return;
        }
    }
}

Task<bool> VirtualDevice::send(std::string_view lines) {
    if (lost_) co_return false;
    if (outgoing_.size() + lines.size() <= longest_backlog) outgoing_ += lines;
    if (writing_) co_return true;
    writing_ = true;
    while (!outgoing_.empty() && !lost_) {
        std::string chunk;
        chunk.swap(outgoing_);
        const Outcome written = co_await link_->write(SendRight(), std::as_bytes(std::span(chunk)));
        lost_ = !written.ok();
    }
    writing_ = false;
    co_return !lost_;
}

std::unique_ptr<VirtualDevice> make_virtual_pump(std::shared_ptr<World> world, std::unique_ptr<Link> link) {
    return std::make_unique<VirtualPump>(std::move(world), std::move(link));
}

std::unique_ptr<VirtualDevice> make_virtual_balance(std::shared_ptr<World> world, std::unique_ptr<Link> link,
                                                    Random garbage) {
    return std::make_unique<VirtualBalance>(std::move(world), std::move(link), garbage);
}

std::unique_ptr<VirtualDevice> make_virtual_counter(std::shared_ptr<World> world,
                                                    std::unique_ptr<Link> link) {
    return std::make_unique<VirtualCounter>(std::move(world), std::move(link));
}

std::unique_ptr<VirtualDevice> make_virtual_climate(std::shared_ptr<World> world, std::unique_ptr<Link> link,
                                                    Random dice) {
    return std::make_unique<VirtualClimate>(std::move(world), std::move(link), dice);
}

}  // namespace tipwright::bench
