// Line ASCII, instruments: the roles a line device can play.
#pragma once

#include <memory>
#include <string>

#include "bench/instruments/family.hpp"
#include "bench/instruments/interpret.hpp"
#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

using LineProfilePtr = std::shared_ptr<const LineAsciiProfile>;

std::unique_ptr<Pump> make_line_pump(LineProfilePtr profile, StopMessages stops, std::unique_ptr<Link> link,
                                     Clock& clock, boost::asio::io_context& context, std::string name);
std::unique_ptr<Balance> make_line_balance(LineProfilePtr profile, std::unique_ptr<Link> link, Clock& clock,
                                           boost::asio::io_context& context, std::string name);
std::unique_ptr<ClimateSensor> make_line_climate(LineProfilePtr profile, std::unique_ptr<Link> link,
                                                 Clock& clock, boost::asio::io_context& context,
                                                 std::string name);

std::unique_ptr<Interpreter> make_line_ascii_interpreter(LineProfilePtr profile, Role role);

extern const FamilyEntry line_ascii_family;

}  // namespace tipwright::bench
