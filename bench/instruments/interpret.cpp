#include "bench/instruments/interpret.hpp"

#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/scpi/instruments.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

std::unique_ptr<Interpreter> make_interpreter(const InstrumentProfile& profile) {
    if (auto line = profile.of<LineAsciiProfile>())
        return make_line_ascii_interpreter(std::move(line), profile.role);
    if (auto modbus = profile.of<ModbusProfile>()) return make_modbus_interpreter(std::move(modbus));
    if (auto scpi = profile.of<ScpiProfile>()) return make_scpi_interpreter(std::move(scpi), profile.role);
    return make_tip_counter_interpreter();
}

}  // namespace tipwright::bench
