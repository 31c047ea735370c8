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

class ModbusFamily final : public FamilyOf<ModbusProfile>, public PumpFamily {
public:
    using FamilyOf::FamilyOf;
    const PumpFamily* as_pump() const override { return this; }
    Result<std::unique_ptr<Pump>> make_pump(std::unique_ptr<Link> link, Clock& clock,
                                            boost::asio::io_context& context,
                                            std::string name) const override {
        return make_modbus_pump(part, std::move(link), clock, context, std::move(name));
    }
    std::vector<std::string> stop_messages() const override { return stops_of(*part); }
    Result<std::unique_ptr<Balance>> make_balance(std::unique_ptr<Link> link, Clock& clock,
                                                  boost::asio::io_context& context,
                                                  std::string name) const override {
        return make_modbus_balance(part, std::move(link), clock, context, std::move(name));
    }
    Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(std::unique_ptr<Link> link, Clock& clock,
                                                               boost::asio::io_context& context,
                                                               std::string name) const override {
        return make_modbus_climate(part, std::move(link), clock, context, std::move(name));
    }
    std::unique_ptr<Interpreter> make_interpreter(Role) const override {
        return make_modbus_interpreter(part);
    }
    bool speaks_unasked(Role) const override { return false; }
    bool tells_identity() const override { return part->identity.has_value(); }
};

constexpr Role roles[] = {Role::pump, Role::balance, Role::climate};

}  // namespace

const FamilyEntry modbus_family{
    "modbus-rtu", roles,
    [](TomlTable& root, Role role, const SerialSettings& serial) -> std::shared_ptr<const Family> {
        return std::make_shared<ModbusFamily>(parse_modbus_profile(root, role, serial));
    }};

}  // namespace tipwright::bench
