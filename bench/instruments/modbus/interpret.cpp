#include <cstdio>
#include <optional>
#include <span>

#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/modbus_crc.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t held_max = 512;

unsigned byte_at(std::string_view bytes, std::size_t at) {
    return static_cast<unsigned char>(bytes[at]);
}
unsigned word_at(std::string_view bytes, std::size_t at) {
    return byte_at(bytes, at) << 8 | byte_at(bytes, at + 1);
}

// A request as it was framed by modbus_frame(): one whole frame a write.
std::optional<ModbusRequest> request_in(std::string_view frame) {
    if (frame.size() < 8) return std::nullopt;
    ModbusRequest request;
    request.unit = static_cast<int>(byte_at(frame, 0));
    request.function = static_cast<ModbusFunction>(byte_at(frame, 1));
    request.address = static_cast<std::uint16_t>(word_at(frame, 2));
    const auto word = static_cast<std::uint16_t>(word_at(frame, 4));
    switch (request.function) {
        case ModbusFunction::read_holding:
        case ModbusFunction::read_input:
            request.count = word;
            return request;
        case ModbusFunction::write_one:
            request.values = {word};
            return request;
        case ModbusFunction::write_many:
            for (std::size_t i = 0; i < word && 7 + 2 * i + 4 <= frame.size(); ++i)
                request.values.push_back(static_cast<std::uint16_t>(word_at(frame, 7 + 2 * i)));
            return request;
    }
    return std::nullopt;
}

std::string registers_text(unsigned address, std::size_t count) {
    return (count == 1 ? "register " : "registers ") + std::to_string(address) +
           (count == 1 ? "" : " to " + std::to_string(address + count - 1));
}

class ModbusInterpreter final : public Interpreter {
public:
    explicit ModbusInterpreter(ModbusProfilePtr profile) : profile_(std::move(profile)) {}

    std::vector<Meaning> sent(std::string_view bytes) override {
        held_.clear();
        asked_ = request_in(bytes);
        if (!asked_) return {{false, "no request of functions 03, 04, 06, 16", {}}};
        const std::string of_unit = " of unit " + std::to_string(asked_->unit);
        if (asked_->values.empty()) {
            const char* kind = asked_->function == ModbusFunction::read_input ? "input " : "holding ";
            return {{true,
                     std::string("reads ") + kind + registers_text(asked_->address, asked_->count) + of_unit,
                     {}}};
        }
        return {{true,
                 "writes " + registers_text(asked_->address, asked_->values.size()) + of_unit + ": " +
                     words_of(asked_->values),
                 {}}};
    }

    std::vector<Meaning> came(std::string_view bytes) override {
        if (!asked_) return {{false, "comes without a question", {}}};
        held_ += bytes;
        std::vector<Meaning> meanings;
        std::size_t done = 0;
        bool told = false;
        while (true) {
            const ModbusParse parse = parse_modbus(std::as_bytes(std::span(held_)).subspan(done), *asked_);
            if (parse.kind == ModbusParse::Kind::need_more) break;
            if (parse.kind == ModbusParse::Kind::dropped && !told) {
                meanings.push_back(
                    {false, "no answer to this question", {why_not(std::string_view(held_).substr(done))}});
                told = true;
            }
            if (parse.kind == ModbusParse::Kind::exception)
                meanings.push_back({true,
                                    "exception " + std::to_string(parse.exception) + ": " +
                                        std::string(modbus_exception_text(parse.exception)),
                                    {}});
            if (parse.kind == ModbusParse::Kind::response)
                meanings.push_back(
                    {true, parse.values.empty() ? "confirmed" : values_text(parse.values), {}});
            done += parse.consumed;
        }
        held_.erase(0, done);
        if (held_.size() > held_max) held_.clear();
        return meanings;
    }

private:
    std::string why_not(std::string_view rest) const {
        const auto unit = static_cast<unsigned>(asked_->unit);
        if (byte_at(rest, 0) != unit)
            return "begins with unit " + std::to_string(byte_at(rest, 0)) + ", asked was unit " +
                   std::to_string(unit);
        if (rest.size() < 2) return "cut short";
        const auto length = modbus_response_length(std::as_bytes(std::span(rest)), *asked_);
        if (!length) return "its function or its number of bytes is not that of the question";
        char text[80];
        const unsigned right = crc16_modbus(rest.substr(0, *length - 2));
        std::snprintf(text, sizeof text,
                      "the CRC is not right, the line has %02X %02X, right would be %02X %02X",
                      byte_at(rest, *length - 2), byte_at(rest, *length - 1), right & 0xFFu, right >> 8);
        return text;
    }

    static std::string words_of(const std::vector<std::uint16_t>& values) {
        std::string text;
        for (const std::uint16_t value : values) {
            char word[8];
            std::snprintf(word, sizeof word, "%04X", value);
            text += (text.empty() ? "" : " ") + std::string(word);
        }
        return text;
    }

    std::string values_text(const std::vector<std::uint16_t>& values) const {
        std::string text = words_of(values);
        const auto& identity = profile_->identity;
        if (identity && asked_->address == identity->address &&
            static_cast<int>(values.size()) == identity->count)
            return text + ", identity " + in_quotes(modbus_text(values));
        const ModbusBlock& block = profile_->block;
        if (asked_->address != block.address || static_cast<int>(values.size()) != block.count) return text;
        for (const ModbusQuantity& quantity : block.quantities) {
            const auto at = static_cast<std::size_t>(quantity.address - block.address);
            const double value = quantity.scale * modbus_number(quantity.type, std::span(values).subspan(at),
                                                                profile_->low_word_first) +
                                 quantity.offset;
            char number[64];
            std::snprintf(number, sizeof number, " %.*f", quantity.decimals, value);
            text += ", " + quantity.field + number;
        }
        if (block.status_address) {
            const int status = values[static_cast<std::size_t>(*block.status_address - block.address)];
            text += ", status " + std::to_string(status);
            if ((status & block.overload_bits) != 0) text += " (overload)";
            if (block.stable_bits != 0 && (status & block.stable_bits) == block.stable_bits)
                text += " (stable)";
        }
        return text;
    }

    ModbusProfilePtr profile_;
    std::optional<ModbusRequest> asked_;
    std::string held_;
};

}  // namespace

std::unique_ptr<Interpreter> make_modbus_interpreter(ModbusProfilePtr profile) {
    return std::make_unique<ModbusInterpreter>(std::move(profile));
}

}  // namespace tipwright::bench
