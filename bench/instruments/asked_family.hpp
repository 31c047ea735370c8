// A family that makes pumps, balances and climate sensors, all of them spoken to by question and answer: what
// its members have in common. Left to it: how its pump is stopped, and what it says unasked.
#pragma once

#include <utility>

#include "bench/instruments/family.hpp"
#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

inline constexpr Role asked_roles[] = {Role::pump, Role::balance, Role::climate};

// `make_*_of`: the family's own makers, each from (profile, link, clock, context, name), a pump's from what
// stops it too.
template <class Profile, auto make_pump_of, auto make_balance_of, auto make_climate_of>
class AskedFamily : public FamilyOf<Profile>, public PumpFamily {
public:
    using FamilyOf<Profile>::FamilyOf;

    const PumpFamily* as_pump() const final { return this; }
    Result<std::unique_ptr<Pump>> make_pump(std::unique_ptr<Link> link, Clock& clock,
                                            boost::asio::io_context& context, std::string name) const final {
        return make_pump_of(this->part, this->stop_messages(), std::move(link), clock, context,
                            std::move(name));
    }
    Result<std::unique_ptr<Balance>> make_balance(std::unique_ptr<Link> link, Clock& clock,
                                                  boost::asio::io_context& context,
                                                  std::string name) const final {
        return make_balance_of(this->part, std::move(link), clock, context, std::move(name));
    }
    Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(std::unique_ptr<Link> link, Clock& clock,
                                                               boost::asio::io_context& context,
                                                               std::string name) const final {
        return make_climate_of(this->part, std::move(link), clock, context, std::move(name));
    }
};

}  // namespace tipwright::bench
