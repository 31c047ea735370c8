#include <cstdio>
#include <optional>

#include "bench/instruments/line_interpreter.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"
#include "bench/instruments/tip_counter/protocol.hpp"

namespace tipwright::bench {

namespace {

class CounterInterpreter final : public LineInterpreter {
    Meaning line_sent(std::string_view line) override {
        if (line == counter_question.substr(0, counter_question.size() - 1))
            return {true, "asks who it is", {}};
        return {false, "a tip counter is asked nothing but ID?", {}};
    }

    Meaning line_came(std::string_view line) override {
        const auto body = check_counter_frame(line);
        if (!body) return {false, in_quotes(line) + " is not a whole line", {what_of_checksum(line)}};
        const auto fields = read_counter_fields(*body);
        if (!fields) {
            return {false,
                    in_quotes(line) + " has a right checksum, but not the fields of a line",
                    {"E <sequence> <device_us> <contact 1 or 2> <0 or 1> *<CRC>",
                     "H <sequence> <device_us> *<CRC>", "I <sequence> <device_us> <text> *<CRC>"}};
        }
        std::string text =
            fields->heartbeat ? "heartbeat"
            : !fields->identity.empty()
                ? "answer to identify: " + std::string(fields->identity)
                : "contact " + std::to_string(fields->contact) + (fields->closed ? " closed" : " opened");
        char time[40];
        std::snprintf(time, sizeof time, " at %.6f s of its clock",
                      static_cast<double>(fields->device_us) * 1e-6);
        text += time;
        if (last_ && fields->sequence - *last_ != 1)
            text += "; line " + std::to_string(fields->sequence) + " after line " + std::to_string(*last_);
        last_ = fields->sequence;
        return {true, text, {}};
    }

    static std::string what_of_checksum(std::string_view line) {
        const std::size_t star = line.rfind(" *");
        if (star == std::string_view::npos)
            return "it has no checksum: a blank, *, and four hexadecimal digits";
        char right[8];
        std::snprintf(right, sizeof right, "%04X", crc16_modbus(line.substr(0, star)));
        return "the checksum is not the CRC-16/MODBUS of what is before it, the line has " +
               in_quotes(line.substr(star + 2)) + ", right would be " + right;
    }

    std::optional<std::uint32_t> last_;
};

}  // namespace

std::unique_ptr<Interpreter> make_tip_counter_interpreter() {
    return std::make_unique<CounterInterpreter>();
}

}  // namespace tipwright::bench
