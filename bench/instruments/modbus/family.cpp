#include "bench/instruments/asked_family.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/modbus/protocol.hpp"

namespace tipwright::bench {

namespace {

std::vector<std::string> stops_of(const ModbusProfile& profile) {
    std::vector<std::string> messages;
    for (const ModbusWrite& write : profile.stop) {
        const auto registers =
            modbus_registers_of(write.type, write.value.value_or(0), profile.low_word_first);
        if (!registers) continue;
        ModbusRequest request;
        request.unit = profile.unit;
        request.function = write.function;
        request.address = static_cast<std::uint16_t>(write.address);
        request.values = *registers;
        messages.push_back(modbus_frame(request));
    }
    return messages;
}

class ModbusFamily final
    : public AskedFamily<ModbusProfile, make_modbus_pump, make_modbus_balance, make_modbus_climate> {
public:
    using AskedFamily::AskedFamily;
    std::vector<std::string> stop_messages() const override { return stops_of(*part); }
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
