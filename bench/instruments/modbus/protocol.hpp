// Modbus RTU, protocol: requests to bytes, bytes to responses. Pure. By the open specifications "MODBUS
// Application Protocol V1.1b3" (functions 03, 04, 06, 16 and exceptions; numbers of clauses in the .cpp) and
// "MODBUS over serial line V1.02" (RTU frame, CRC, silence between frames). Registers are numbered as on the
// wire, from 0.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::bench {

enum class ModbusFunction : std::uint8_t {
    read_holding = 3,
    read_input = 4,
    write_one = 6,
    write_many = 16,
};

inline constexpr int modbus_read_max = 125;   // registers in one read (6.3, 6.4)
inline constexpr int modbus_write_max = 123;  // registers in one write (6.12)

struct ModbusRequest {
    int unit = 1;  // 1 to 247
    ModbusFunction function = ModbusFunction::read_holding;
    std::uint16_t address = 0;
    std::uint16_t count = 1;            // registers to read
    std::vector<std::uint16_t> values;  // registers to write
};

// The frame, CRC included.
std::string modbus_frame(const ModbusRequest& request);

struct ModbusParse {
    enum class Kind { need_more, response, exception, dropped };
    Kind kind = Kind::need_more;
    std::size_t consumed = 0;
    std::vector<std::uint16_t> values;  // of a read
    int exception = 0;                  // code of an exception
};

// What stands at the front of the bytes: the response to this request, an exception to it, bytes that are
// none of it, or the beginning of something.
ModbusParse parse_modbus(std::span<const std::byte> bytes, const ModbusRequest& request);

// Its two steps. How long the frame at the front must be; nothing when it answers another question.
std::optional<std::size_t> modbus_response_length(std::span<const std::byte> bytes,
                                                  const ModbusRequest& request);
// Fields of a frame whose CRC is right; false when they do not fit the request.
bool read_modbus_response(std::span<const std::byte> frame, const ModbusRequest& request, ModbusParse& parse);

// "illegal data address", for messages.
std::string_view modbus_exception_text(int code);

// Least silence between two frames in seconds: 3.5 characters of 11 bits, 1.75 ms above 19200 baud (2.5.1.1).
double modbus_silence_s(int baud);
// What one byte takes on the line in seconds: 11 bits.
double modbus_byte_s(int baud);

// Numbers in registers.
enum class ModbusType { uint16, int16, uint32, int32, float32 };
int modbus_registers(ModbusType type);
double modbus_number(ModbusType type, std::span<const std::uint16_t> registers, bool low_word_first);
// A text, two characters in a register, the first in the upper byte, up to a zero byte or the blanks at its
// end. Empty when something in it is not printable ASCII.
std::string modbus_text(std::span<const std::uint16_t> registers);
// Nothing when the number does not fit the type. Integers are rounded.
std::optional<std::vector<std::uint16_t>> modbus_registers_of(ModbusType type, double number,
                                                              bool low_word_first);

}  // namespace tipwright::bench
