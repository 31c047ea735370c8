#include "bench/instruments/make.hpp"

namespace tipwright::bench {

namespace {

Fault no_such_role(const std::string& name, Role wanted) {
    return Fault{FaultCode::inconsistent, "no instrument of its family is a " + std::string(name_of(wanted)),
                 name, "name another profile in the bench description"};
}

Outcome check_role(const InstrumentProfile& profile, Role wanted, const std::string& name) {
    if (profile.role == wanted) return Done{};
    return Fault{FaultCode::inconsistent,
                 "its profile is of a " + std::string(name_of(profile.role)) + ", not of a " +
                     std::string(name_of(wanted)),
                 name, "name another profile in the bench description"};
}

}  // namespace

// NOLINTBEGIN(performance-unnecessary-value-param): a family that can make one keeps the name it is given.
Result<std::unique_ptr<Balance>> Family::make_balance(std::unique_ptr<Link>, Clock&, boost::asio::io_context&,
                                                      std::string name) const {
    return no_such_role(name, Role::balance);
}

Result<std::unique_ptr<TipCounter>> Family::make_tip_counter(std::unique_ptr<Link>, Clock&,
                                                             boost::asio::io_context&,
                                                             std::string name) const {
    return no_such_role(name, Role::counter);
}

Result<std::unique_ptr<ClimateSensor>> Family::make_climate_sensor(std::unique_ptr<Link>, Clock&,
                                                                   boost::asio::io_context&,
                                                                   std::string name) const {
    return no_such_role(name, Role::climate);
}
// NOLINTEND(performance-unnecessary-value-param)

Result<std::unique_ptr<Pump>> make_pump(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                        Clock& clock, boost::asio::io_context& context, std::string name) {
    if (Outcome fits = check_role(profile, Role::pump, name); !fits) return fits.fault();
    const PumpFamily* const pump = profile.family->as_pump();
    if (pump == nullptr) return no_such_role(name, Role::pump);
    return pump->make_pump(std::move(link), clock, context, std::move(name));
}

Result<std::unique_ptr<Balance>> make_balance(const InstrumentProfile& profile, std::unique_ptr<Link> link,
                                              Clock& clock, boost::asio::io_context& context,
                                              std::string name) {
    if (Outcome fits = check_role(profile, Role::balance, name); !fits) return fits.fault();
    return profile.family->make_balance(std::move(link), clock, context, std::move(name));
}

Result<std::unique_ptr<TipCounter>> make_tip_counter(const InstrumentProfile& profile,
                                                     std::unique_ptr<Link> link, Clock& clock,
                                                     boost::asio::io_context& context, std::string name) {
    if (Outcome fits = check_role(profile, Role::counter, name); !fits) return fits.fault();
    return profile.family->make_tip_counter(std::move(link), clock, context, std::move(name));
}

Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(const InstrumentProfile& profile,
                                                           std::unique_ptr<Link> link, Clock& clock,
                                                           boost::asio::io_context& context,
                                                           std::string name) {
    if (Outcome fits = check_role(profile, Role::climate, name); !fits) return fits.fault();
    return profile.family->make_climate_sensor(std::move(link), clock, context, std::move(name));
}

}  // namespace tipwright::bench
