// Make: instruments by role, from a profile, a link and the clock. `name` is what messages call the
// instrument. Fault inconsistent when the profile is of another role. The instrument reads its link from
// now on, so that what it sends is taken at the time it came; destroying it closes the link. Clock and
// context outlive it.
#pragma once

#include <memory>
#include <string>

#include "bench/clock/clock.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

Result<std::unique_ptr<Pump>> make_pump(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                        Clock& clock, boost::asio::io_context& context,
                                        std::string name = "pump");
Result<std::unique_ptr<Balance>> make_balance(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                              Clock& clock, boost::asio::io_context& context,
                                              std::string name = "balance");
Result<std::unique_ptr<TipCounter>> make_tip_counter(const InstrumentProfile& profile,
                                                     std::unique_ptr<Link> link, Clock& clock,
                                                     boost::asio::io_context& context,
                                                     std::string name = "counter");
Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(const InstrumentProfile& profile,
                                                           std::unique_ptr<Link> link, Clock& clock,
                                                           boost::asio::io_context& context,
                                                           std::string name = "climate");

}  // namespace tipwright::bench
