// SCPI: messages of one or more parts; *OPC? answers when the part before it is done, SYST:ERR? what became
// of it.
#include <algorithm>
#include <deque>

#include "bench/instruments/scpi/profile.hpp"
#include "bench/instruments/virtual_identity.hpp"
#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/dialect.hpp"

namespace tipwright::bench {

namespace {

constexpr const char* overload = "9.9E37";  // SCPI-1999 volume 1, 7.2.1.4

class ScpiDialect final : public Dialect {
public:
    ScpiDialect(std::shared_ptr<const ScpiProfile> profile, Role role)
        : profile_(std::move(profile)), role_(role) {}

    void heard(std::string_view wire, std::string& commands, std::string& replies) override {
        for (const char c : wire) {
            if (c != '\r' && c != '\n') {
                held_ += c;
                continue;
            }
            if (!held_.empty()) message(held_, commands, replies);
            held_.clear();
        }
    }

    std::string said(std::string_view line) override {
        const DeviceWords words = read_device_words(line);
        const bool quantity =
            words.kind == DeviceWords::Kind::weight || words.kind == DeviceWords::Kind::climate;
        if (quantity) {  // a balance that prints by itself speaks here only when it was asked
            const auto asked = std::find(pending_.begin(), pending_.end(), Wait::reading);
            if (asked == pending_.end()) return "";
            pending_.erase(asked);
            return reading(words) + "\n";
        }
        if (pending_.empty()) return "";
        const Wait wait = pending_.front();
        pending_.pop_front();
        if (words.kind == DeviceWords::Kind::refused) error_ = "-200,\"" + words.text + "\"";
        if (wait == Wait::identity) return std::string(virtual_maker) + words.text + ",0,1\n";
        return wait == Wait::completed ? "1\n" : "";
    }

private:
    enum class Wait { nothing, completed, identity, reading };

    void message(const std::string& line, std::string& commands, std::string& replies) {
        constexpr std::string_view completed = ";*OPC?";
        if (line == "SYST:ERR?") {
            replies += error_ + "\n";
            error_ = no_error;
            return;
        }
        if (line == "*IDN?" || line == "*OPC?") {
            ask("ID?", line == "*IDN?" ? Wait::identity : Wait::completed, commands);
            return;
        }
        const bool asks = line.ends_with(completed);
        const std::string part = asks ? line.substr(0, line.size() - completed.size()) : line;
        const Wait wait = asks ? Wait::completed : Wait::nothing;
        FieldValues values;
        const auto is = [&](const std::optional<Pattern>& pattern) {
            return pattern && pattern->match(part, values);
        };
        if (is(profile_->read)) return ask(role_ == Role::climate ? "C?" : "W?", Wait::reading, commands);
        if (is(profile_->set_flow))
            return ask("FLOW " + fixed_text(values[0].number.value, 3), wait, commands);
        if (is(profile_->stop)) return ask("STOP", wait, commands);
        if (is(profile_->drain_open)) return ask("DRAIN OPEN", wait, commands);
        if (is(profile_->drain_close)) return ask("DRAIN CLOSE", wait, commands);
        if (is(profile_->arm)) return ask("TIMEOUT " + fixed_text(values[0].number.value, 1), wait, commands);
        if (is(profile_->keep_alive)) return ask("ID?", wait, commands);
        if (is(profile_->tare)) return ask("TARE", wait, commands);
        error_ = "-113,\"Undefined header\"";  // SCPI-1999 volume 2, 21.8.9
        if (asks) replies += "1\n";
    }

    void ask(const std::string& words, Wait wait, std::string& commands) {
        pending_.push_back(wait);
        commands += words + "\r";
    }

    std::string reading(const DeviceWords& words) const {
        std::string out;
        for (const ScpiElement& element : profile_->elements) {
            if (!out.empty()) out += ',';
            if (element.field == "_") {
                out += '0';
            } else if (element.field == "status") {
                out += std::to_string((words.stable ? profile_->stable_bits : 0) |
                                      (words.over ? profile_->overload_bits : 0));
            } else if (words.over) {
                out += overload;
            } else {
                const int shift = element.field == "mass_kg" ? 3 : element.field == "mass_mg" ? -3 : 0;
                const bool weight = words.kind == DeviceWords::Kind::weight;
                out += fixed_text(quantity_of(words, element.field),
                                  weight ? std::max(0, words.decimals + shift) : 2);
            }
        }
        return out;
    }

    static constexpr const char* no_error = "0,\"No error\"";
    std::shared_ptr<const ScpiProfile> profile_;
    Role role_;
    std::string held_;
    std::string error_ = no_error;
    std::deque<Wait> pending_;
};

}  // namespace

std::unique_ptr<Dialect> make_scpi_dialect(std::shared_ptr<const ScpiProfile> profile, Role role) {
    return std::make_unique<ScpiDialect>(std::move(profile), role);
}

}  // namespace tipwright::bench
