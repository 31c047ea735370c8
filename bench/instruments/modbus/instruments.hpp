// Modbus RTU, instruments: the roles a Modbus device can play.
#pragma once

#include <memory>
#include <string>

#include "bench/instruments/family.hpp"
#include "bench/instruments/interpret.hpp"
#include "bench/instruments/modbus/profile.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

using ModbusProfilePtr = std::shared_ptr<const ModbusProfile>;

std::unique_ptr<Pump> make_modbus_pump(ModbusProfilePtr profile, StopMessages stops,
                                       std::unique_ptr<Link> link, Clock& clock,
                                       boost::asio::io_context& context, std::string name);
std::unique_ptr<Balance> make_modbus_balance(ModbusProfilePtr profile, std::unique_ptr<Link> link,
                                             Clock& clock, boost::asio::io_context& context,
                                             std::string name);
std::unique_ptr<ClimateSensor> make_modbus_climate(ModbusProfilePtr profile, std::unique_ptr<Link> link,
                                                   Clock& clock, boost::asio::io_context& context,
                                                   std::string name);

std::unique_ptr<Interpreter> make_modbus_interpreter(ModbusProfilePtr profile);

extern const FamilyEntry modbus_family;

}  // namespace tipwright::bench
