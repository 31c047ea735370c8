#include "bench/instruments/stop_messages.hpp"

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/modbus/profile.hpp"
#include "bench/instruments/modbus/protocol.hpp"
#include "bench/instruments/scpi/profile.hpp"

namespace tipwright::bench {

namespace {

std::vector<std::string> of_modbus(const ModbusProfile& profile) {
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

}  // namespace

std::vector<std::string> stop_messages(const InstrumentProfile& profile) {
    if (profile.role != Role::pump) return {};
    if (const auto line = profile.of<LineAsciiProfile>(); line && line->stop.send)
        return {line->stop.send->print({}) + line->send_ending};
    if (const auto modbus = profile.of<ModbusProfile>()) return of_modbus(*modbus);
    if (const auto scpi = profile.of<ScpiProfile>(); scpi && scpi->stop)
        return {scpi->stop->print({}) + scpi->send_ending};
    return {};
}

}  // namespace tipwright::bench
