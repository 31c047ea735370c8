#include <algorithm>

#include "bench/instruments/asked_family.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/modbus/protocol.hpp"

namespace tipwright::bench {

namespace {

// Until a device begins to answer; no specification limits it, and one that only writes a register is quick.
constexpr double turnaround_s = 0.02;

// The pause lets a device take the frame in and confirm it: on two wires a frame that comes into the
// confirmation is lost.
StopMessages stops_of(const ModbusProfile& profile) {
    StopMessages stops;
    constexpr std::size_t confirmation = 8;  // bytes, of function 06 as of 16
    std::size_t longest = 0;
    for (const ModbusWrite& write : profile.stop) {
        const auto registers =
            modbus_registers_of(write.type, write.value.value_or(0), profile.low_word_first);
        if (!registers) continue;
        ModbusRequest request;
        request.unit = profile.unit;
        request.function = write.function;
        request.address = static_cast<std::uint16_t>(write.address);
        request.values = *registers;
        stops.messages.push_back(modbus_frame(request));
        longest = std::max(longest, stops.messages.back().size());
    }
    const AskTimes& times = profile.times;
    stops.pause_s =
        static_cast<double>(longest + confirmation) * times.byte_s + 2 * times.gap_s + turnaround_s;
    return stops;
}

class ModbusFamily final
    : public AskedFamily<ModbusProfile, make_modbus_pump, make_modbus_balance, make_modbus_climate> {
public:
    using AskedFamily::AskedFamily;
    StopMessages stop_messages() const override { return stops_of(*part); }
    std::unique_ptr<Interpreter> make_interpreter(Role) const override {
        return make_modbus_interpreter(part);
    }
    bool speaks_unasked(Role) const override { return false; }
    bool tells_identity() const override { return part->identity.has_value(); }
};

}  // namespace

const FamilyEntry modbus_family{
    "modbus-rtu", asked_roles,
    [](TomlTable& root, Role role, const SerialSettings& serial) -> std::shared_ptr<const Family> {
        return std::make_shared<ModbusFamily>(parse_modbus_profile(root, role, serial));
    }};

}  // namespace tipwright::bench
