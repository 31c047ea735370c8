// SCPI, instruments: the roles a SCPI device can play. A command counts as done when *OPC? says so and the
// error queue is empty.
#pragma once

#include <memory>
#include <string>

#include "bench/instruments/family.hpp"
#include "bench/instruments/interpret.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/instruments/scpi/profile.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

using ScpiProfilePtr = std::shared_ptr<const ScpiProfile>;

std::unique_ptr<Pump> make_scpi_pump(ScpiProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link,
                                     Clock& clock, boost::asio::io_context& context, std::string name);
std::unique_ptr<Balance> make_scpi_balance(ScpiProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                                           boost::asio::io_context& context, std::string name);
std::unique_ptr<ClimateSensor> make_scpi_climate(ScpiProfilePtr profile, std::unique_ptr<Link> link,
                                                 Clock& clock, boost::asio::io_context& context,
                                                 std::string name);

std::unique_ptr<Interpreter> make_scpi_interpreter(ScpiProfilePtr profile, Role role);

extern const FamilyEntry scpi_family;

}  // namespace tipwright::bench
