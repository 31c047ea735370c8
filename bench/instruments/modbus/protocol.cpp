#include "bench/instruments/modbus/protocol.hpp"

#include <bit>
#include <cmath>
#include <limits>

#include "bench/instruments/modbus_crc.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t crc_length = 2;
constexpr std::size_t exception_length = 5;  // unit, function, code, CRC
constexpr std::size_t write_length = 8;      // unit, function, address, value or count, CRC
constexpr unsigned exception_bit = 0x80;

std::string_view text_of(std::span<const std::byte> bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

unsigned byte_at(std::span<const std::byte> bytes, std::size_t at) {
    return std::to_integer<unsigned>(bytes[at]);
}

// High byte first (Application Protocol 4.2).
std::uint16_t word_at(std::span<const std::byte> bytes, std::size_t at) {
    return static_cast<std::uint16_t>(byte_at(bytes, at) << 8 | byte_at(bytes, at + 1));
}

void append_word(std::string& frame, std::uint16_t word) {
    frame += static_cast<char>(word >> 8);
    frame += static_cast<char>(word & 0xFF);
}

bool is_read(ModbusFunction function) {
    return function == ModbusFunction::read_holding || function == ModbusFunction::read_input;
}

// Low byte of the CRC first (Serial Line 6.2.2).
bool crc_is_right(std::span<const std::byte> frame) {
    const std::uint16_t crc = crc16_modbus(text_of(frame.first(frame.size() - crc_length)));
    return byte_at(frame, frame.size() - 2) == (crc & 0xFFu) && byte_at(frame, frame.size() - 1) == crc >> 8;
}

std::uint32_t joined(std::span<const std::uint16_t> registers, bool low_word_first) {
    const std::uint32_t first = registers[0];
    const std::uint32_t second = registers[1];
    return low_word_first ? second << 16 | first : first << 16 | second;
}

}  // namespace

std::string modbus_frame(const ModbusRequest& request) {
    std::string frame;
    frame += static_cast<char>(request.unit);
    frame += static_cast<char>(request.function);
    append_word(frame, request.address);
    switch (request.function) {
        case ModbusFunction::read_holding:  // 6.3
        case ModbusFunction::read_input:    // 6.4
            append_word(frame, request.count);
            break;
        case ModbusFunction::write_one:  // 6.6
            append_word(frame, request.values.at(0));
            break;
        case ModbusFunction::write_many:  // 6.12
            append_word(frame, static_cast<std::uint16_t>(request.values.size()));
            frame += static_cast<char>(2 * request.values.size());
            for (const std::uint16_t value : request.values) append_word(frame, value);
            break;
    }
    const std::uint16_t crc = crc16_modbus(frame);
    frame += static_cast<char>(crc & 0xFF);
    frame += static_cast<char>(crc >> 8);
    return frame;
}

std::optional<std::size_t> modbus_response_length(std::span<const std::byte> bytes,
                                                  const ModbusRequest& request) {
    // Up to three bytes decide; with fewer, the least that could follow.
    if (bytes.empty()) return exception_length;
    if (byte_at(bytes, 0) != static_cast<unsigned>(request.unit)) return std::nullopt;
    if (bytes.size() < 2) return exception_length;
    const auto function = static_cast<unsigned>(request.function);
    if (byte_at(bytes, 1) == (function | exception_bit)) return exception_length;
    if (byte_at(bytes, 1) != function) return std::nullopt;
    if (!is_read(request.function)) return write_length;
    if (bytes.size() < 3) return exception_length;
    const std::size_t data = std::size_t{2} * request.count;
    if (byte_at(bytes, 2) != data) return std::nullopt;
    return 3 + data + crc_length;
}

bool read_modbus_response(std::span<const std::byte> frame, const ModbusRequest& request,
                          ModbusParse& parse) {
    if (byte_at(frame, 1) & exception_bit) {  // 7
        parse.kind = ModbusParse::Kind::exception;
        parse.exception = static_cast<int>(byte_at(frame, 2));
        return true;
    }
    parse.kind = ModbusParse::Kind::response;
    if (is_read(request.function)) {
        parse.values.reserve(request.count);
        for (std::size_t i = 0; i < request.count; ++i) parse.values.push_back(word_at(frame, 3 + 2 * i));
        return true;
    }
    // A write is confirmed by its address and, for one register, its value, for many their number.
    const std::uint16_t confirmed = request.function == ModbusFunction::write_one
                                        ? request.values.at(0)
                                        : static_cast<std::uint16_t>(request.values.size());
    return word_at(frame, 2) == request.address && word_at(frame, 4) == confirmed;
}

ModbusParse parse_modbus(std::span<const std::byte> bytes, const ModbusRequest& request) {
    ModbusParse parse;
    if (bytes.empty()) return parse;
    const auto length = modbus_response_length(bytes, request);
    if (length && bytes.size() < *length) return parse;
    if (length && crc_is_right(bytes.first(*length)) &&
        read_modbus_response(bytes.first(*length), request, parse)) {
        parse.consumed = *length;
        return parse;
    }
    parse = {};
    parse.kind = ModbusParse::Kind::dropped;
    parse.consumed = 1;
    return parse;
}

std::string_view modbus_exception_text(int code) {
    switch (code) {
        case 1:
            return "illegal function";
        case 2:
            return "illegal data address";
        case 3:
            return "illegal data value";
        case 4:
            return "server device failure";
        case 5:
            return "acknowledge";
        case 6:
            return "server device busy";
        case 8:
            return "memory parity error";
        case 10:
            return "gateway path unavailable";
        case 11:
            return "gateway target device failed to respond";
        default:
            return "unknown exception";
    }
}

double modbus_silence_s(int baud) {
    return baud > 19200 ? 0.00175 : 3.5 * modbus_byte_s(baud);
}

double modbus_byte_s(int baud) {
    constexpr double bits = 11;
    return bits / baud;
}

int modbus_registers(ModbusType type) {
    return type == ModbusType::uint16 || type == ModbusType::int16 ? 1 : 2;
}

double modbus_number(ModbusType type, std::span<const std::uint16_t> registers, bool low_word_first) {
    switch (type) {
        case ModbusType::uint16:
            return registers[0];
        case ModbusType::int16:
            return static_cast<std::int16_t>(registers[0]);
        case ModbusType::uint32:
            return joined(registers, low_word_first);
        case ModbusType::int32:
            return static_cast<std::int32_t>(joined(registers, low_word_first));
        case ModbusType::float32:
            return std::bit_cast<float>(joined(registers, low_word_first));
    }
    return std::numeric_limits<double>::quiet_NaN();
}

std::string modbus_text(std::span<const std::uint16_t> registers) {
    std::string text;
    for (const std::uint16_t two : registers) {
        for (const int byte : {two >> 8, two & 0xFF}) {
            if (byte == 0) return text;
            if (byte < 0x20 || byte > 0x7E) return {};
            text += static_cast<char>(byte);
        }
    }
    // Filled up with blanks where no zero ends it.
    text.erase(text.find_last_not_of(' ') + 1);
    return text;
}

std::optional<std::vector<std::uint16_t>> modbus_registers_of(ModbusType type, double number,
                                                              bool low_word_first) {
    std::uint32_t bits = 0;
    if (type == ModbusType::float32) {
        const auto single = static_cast<float>(number);
        if (!std::isfinite(single)) return std::nullopt;
        bits = std::bit_cast<std::uint32_t>(single);
    } else {
        const bool is_signed = type == ModbusType::int16 || type == ModbusType::int32;
        const int width = 16 * modbus_registers(type);
        const double low = is_signed ? -std::ldexp(1.0, width - 1) : 0;
        const double high = std::ldexp(1.0, is_signed ? width - 1 : width) - 1;
        const double rounded = std::round(number);
        if (!(rounded >= low && rounded <= high)) return std::nullopt;
        bits = static_cast<std::uint32_t>(static_cast<std::int64_t>(rounded));
    }
    const auto low_word = static_cast<std::uint16_t>(bits & 0xFFFF);
    const auto high_word = static_cast<std::uint16_t>(bits >> 16);
    if (modbus_registers(type) == 1) return std::vector<std::uint16_t>{low_word};
    if (low_word_first) return std::vector<std::uint16_t>{low_word, high_word};
    return std::vector<std::uint16_t>{high_word, low_word};
}

}  // namespace tipwright::bench
