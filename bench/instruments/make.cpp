#include "bench/instruments/make.hpp"

#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/modbus/instruments.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/scpi/instruments.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

namespace {

Outcome check_role(const InstrumentProfile& profile, Role wanted, const std::string& name) {
    if (profile.role == wanted) return Done{};
    return Fault{FaultCode::inconsistent,
                 "its profile is of a " + std::string(name_of(profile.role)) + ", not of a " +
                     std::string(name_of(wanted)),
                 name, "name another profile in the bench description"};
}

}  // namespace

Result<std::unique_ptr<Pump>> make_pump(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                        Clock& clock, boost::asio::io_context& context, std::string name) {
    if (Outcome fits = check_role(profile, Role::pump, name); !fits) return fits.fault();
    if (auto modbus = profile.of<ModbusProfile>()) {
        return make_modbus_pump(std::move(modbus), std::move(link), clock, context, std::move(name));
    }
    if (auto scpi = profile.of<ScpiProfile>()) {
        return make_scpi_pump(std::move(scpi), std::move(link), clock, context, std::move(name));
    }
    return make_line_pump(profile.of<LineAsciiProfile>(), std::move(link), clock, context, std::move(name));
}

Result<std::unique_ptr<Balance>> make_balance(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                              Clock& clock, boost::asio::io_context& context,
                                              std::string name) {
    if (Outcome fits = check_role(profile, Role::balance, name); !fits) return fits.fault();
    if (auto modbus = profile.of<ModbusProfile>()) {
        return make_modbus_balance(std::move(modbus), std::move(link), clock, context, std::move(name));
    }
    if (auto scpi = profile.of<ScpiProfile>()) {
        return make_scpi_balance(std::move(scpi), std::move(link), clock, context, std::move(name));
    }
    return make_line_balance(profile.of<LineAsciiProfile>(), std::move(link), clock, context,
                             std::move(name));
}

Result<std::unique_ptr<TipCounter>> make_tip_counter(const InstrumentProfile& profile,
                                                     std::unique_ptr<Link> link, Clock& clock,
                                                     boost::asio::io_context& context, std::string name) {
    if (Outcome fits = check_role(profile, Role::counter, name); !fits) return fits.fault();
    if (auto contacts = profile.of<ModemContactsProfile>()) {
        return make_modem_counter(std::move(contacts), std::move(link), clock, context, std::move(name));
    }
    return make_line_counter(profile.of<TipCounterProfile>(), std::move(link), clock, context,
                             std::move(name));
}

Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(const InstrumentProfile& profile,
                                                           std::unique_ptr<Link> link, Clock& clock,
                                                           boost::asio::io_context& context,
                                                           std::string name) {
    if (Outcome fits = check_role(profile, Role::climate, name); !fits) return fits.fault();
    if (auto modbus = profile.of<ModbusProfile>()) {
        return make_modbus_climate(std::move(modbus), std::move(link), clock, context, std::move(name));
    }
    if (auto scpi = profile.of<ScpiProfile>()) {
        return make_scpi_climate(std::move(scpi), std::move(link), clock, context, std::move(name));
    }
    return make_line_climate(profile.of<LineAsciiProfile>(), std::move(link), clock, context,
                             std::move(name));
}

}  // namespace tipwright::bench
