#include "bench/virtual_bench/dialect.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <span>
#include <utility>

#include "bench/instruments/line_ascii/protocol.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t longest_line = 128;

}  // namespace

class DialectLink final : public Link {
public:
    DialectLink(std::unique_ptr<Link> wire, std::unique_ptr<Dialect> dialect)
        : wire_(std::move(wire)), dialect_(std::move(dialect)) {}

    std::string name() const override { return wire_->name(); }
    void close() override { wire_->close(); }

    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override {
        std::array<std::byte, 256> buffer{};
        while (commands_.empty()) {
            const Result<std::size_t> got = co_await wire_->read_some(buffer);
            if (!got) co_return got;
            std::string replies;
            dialect_->heard(std::string_view(reinterpret_cast<const char*>(buffer.data()), *got), commands_,
                            replies);
            if (replies.empty()) continue;
            const Outcome sent = co_await wire_->write(SendRight(), std::as_bytes(std::span(replies)));
            if (!sent) co_return sent.fault();
        }
        const std::size_t count = std::min(into.size(), commands_.size());
        std::transform(commands_.begin(), commands_.begin() + static_cast<std::ptrdiff_t>(count),
                       into.begin(), [](char c) { return static_cast<std::byte>(c); });
        commands_.erase(0, count);
        co_return count;
    }

    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        said_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        std::string out;
        for (std::size_t end = said_.find("\r\n"); end != std::string::npos; end = said_.find("\r\n")) {
            out += dialect_->said(std::string_view(said_).substr(0, end));
            said_.erase(0, end + 2);
        }
        // No line of a device is so long: what a disturbed one sends goes out as it is.
        if (said_.size() > longest_line) out += std::exchange(said_, {});
        if (out.empty()) co_return Done{};
        co_return co_await wire_->write(right, std::as_bytes(std::span(out)));
    }

private:
    std::unique_ptr<Link> wire_;
    std::unique_ptr<Dialect> dialect_;
    std::string commands_;
    std::string said_;
};

namespace {

// The number behind that word; words and numbers of a device stand between blanks.
double number_after(std::string_view line, std::string_view word, std::string* text = nullptr) {
    const std::size_t at = line.find(word);
    if (at == std::string_view::npos) return 0;
    const std::size_t begin = line.find_first_not_of(' ', at + word.size());
    if (begin == std::string_view::npos) return 0;
    const std::string number(line.substr(begin, line.find(' ', begin) - begin));
    if (text != nullptr) *text = number;
    return std::strtod(number.c_str(), nullptr);
}

// A profile of the device's own words needs no interpreter. A balance that is asked does: the device prints.
bool own_words(const InstrumentProfile& profile) {
    const auto line = profile.of<LineAsciiProfile>();
    if (!line || line->send_ending != "\r" || line->read.send.has_value() != (profile.role == Role::climate))
        return false;
    const auto is = [](const LineCommand& command, std::string_view words, std::string_view answer) {
        return !command.send || (command.send->notation() == words && !command.answers.empty() &&
                                 command.answers.front().notation() == answer);
    };
    const auto reads = [](const Pattern& pattern, std::string_view words) {
        FieldValues values;
        return pattern.match(words, values);
    };
    const bool commands = is(line->identify, "ID?", "ID {text}") && is(line->stop, "STOP", "OK STOP") &&
                          is(line->tare, "TARE", "OK TARE") &&
                          is(line->drain_open, "DRAIN OPEN", "OK DRAIN OPEN") &&
                          is(line->drain_close, "DRAIN CLOSE", "OK DRAIN CLOSE") &&
                          is(line->set_flow, "FLOW {flow_mL_min:.3}", "OK FLOW {flow_mL_min}") &&
                          is(line->arm, "TIMEOUT {timeout_s:.1}", "OK TIMEOUT {timeout_s}") &&
                          is(line->keep_alive, "ID?", "ID {text}");
    const bool climate =
        line->climates.empty() ||
        (line->read.send->notation() == "C?" &&
         reads(line->climates.front(), "water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %"));
    const auto weighs = [&](std::string_view words) {
        return line->weights.empty() ||
               std::any_of(line->weights.begin(), line->weights.end(),
                           [&](const WeightPattern& one) { return reads(one.pattern, words); });
    };
    return commands && climate && weighs("W   12.34 g stable") && weighs("W   12.34 g moving") &&
           weighs("W over");
}

}  // namespace

std::unique_ptr<Dialect> make_dialect(const InstrumentProfile& profile) {
    if (own_words(profile)) return nullptr;
    if (auto line = profile.of<LineAsciiProfile>()) return make_line_dialect(std::move(line), profile.role);
    if (auto modbus = profile.of<ModbusProfile>())
        return make_modbus_dialect(std::move(modbus), profile.role);
    if (auto scpi = profile.of<ScpiProfile>()) return make_scpi_dialect(std::move(scpi), profile.role);
    return nullptr;
}

std::unique_ptr<Link> speak_dialect(std::unique_ptr<Link> wire, std::unique_ptr<Dialect> dialect) {
    if (!dialect) return wire;
    return std::make_unique<DialectLink>(std::move(wire), std::move(dialect));
}

DeviceWords read_device_words(std::string_view line) {
    DeviceWords out;
    if (line.starts_with("W ")) {
        out.kind = DeviceWords::Kind::weight;
        out.over = line == "W over";
        out.stable = line.ends_with(" stable");
        std::string text;
        out.mass_g = number_after(line, "W", &text);
        const std::size_t point = text.find('.');
        if (!out.over && point != std::string::npos) out.decimals = static_cast<int>(text.size() - point - 1);
    } else if (line.starts_with("water ")) {
        out.kind = DeviceWords::Kind::climate;
        out.water_C = number_after(line, "water");
        out.air_C = number_after(line, "air");
        out.pressure_hPa = number_after(line, "pressure");
        out.humidity_percent = number_after(line, "humidity");
    } else if (line.starts_with("ID ")) {
        out.kind = DeviceWords::Kind::identity;
        out.text = line.substr(3);
    } else if (line.starts_with("ERR")) {
        out.kind = DeviceWords::Kind::refused;
        out.text = line.substr(std::min<std::size_t>(4, line.size()));
    }
    return out;
}

double quantity_of(const DeviceWords& words, std::string_view field) {
    if (field == "mass" || field == "mass_g") return words.mass_g;
    if (field == "mass_kg") return words.mass_g / 1000;
    if (field == "mass_mg") return words.mass_g * 1000;
    if (field == "water_temperature_C") return words.water_C;
    if (field == "air_temperature_C") return words.air_C;
    if (field == "air_pressure_hPa") return words.pressure_hPa;
    if (field == "air_pressure_kPa") return words.pressure_hPa / 10;
    if (field == "relative_humidity_percent") return words.humidity_percent;
    return 0;
}

}  // namespace tipwright::bench
