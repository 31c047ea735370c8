// Modbus RTU, profile: which registers hold what.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/asking_device.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

// A quantity that is read: its value is scale * number + offset.
struct ModbusQuantity {
    std::string field;
    int address = 0;
    ModbusType type = ModbusType::int16;
    double scale = 1;
    double offset = 0;
    int decimals = 0;
};

// All quantities of a profile, read in one request so that they belong together.
struct ModbusBlock {
    ModbusFunction function = ModbusFunction::read_input;
    int address = 0;
    int count = 0;
    std::vector<ModbusQuantity> quantities;
    std::optional<int> status_address;  // balance: bits that tell its state
    int stable_bits = 0;                // all of these set: the display stands still
    int overload_bits = 0;              // any of these set: overloaded
};

// One register or two that are written: a fixed value, or the flow (to arm: the time limit) divided by
// `scale`.
struct ModbusWrite {
    ModbusFunction function = ModbusFunction::write_one;
    int address = 0;
    ModbusType type = ModbusType::uint16;
    std::optional<double> value;
    double scale = 1;
};
using ModbusWrites = std::vector<ModbusWrite>;  // in this order

// Registers that are read for something else than quantities.
struct ModbusRegisters {
    ModbusFunction function = ModbusFunction::read_holding;
    int address = 0;
    int count = 1;
};

struct ModbusProfile {
    int unit = 1;
    bool low_word_first = false;
    AskTimes times;
    double poll_interval_s = 0;
    double own_timeout_s = 0;  // pump that stops by itself when it hears nothing for so long; 0: it does not
    std::optional<ModbusRegisters> identity;  // two characters in each, the first in the upper byte
    ModbusBlock block;
    ModbusWrites set_flow;
    ModbusWrites stop;
    ModbusWrites drain_open;
    ModbusWrites drain_close;
    ModbusWrites arm;         // the pump's own time limit
    ModbusWrites keep_alive;  // a keep-alive: writes, or a register that is read
    std::optional<ModbusRegisters> keep_alive_read;
    ModbusWrites tare;
};

// Faults are noted in the table's list; the profile is then not to be used.
std::shared_ptr<const ModbusProfile> parse_modbus_profile(TomlTable& root, Role role,
                                                          const SerialSettings& serial);

}  // namespace tipwright::bench
