// A family: instruments that are spoken to in one way. It has a folder of its own beside this file, and one
// line in families.cpp makes it known; nothing else asks which family an instrument is of in order to run it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "bench/instruments/stop_messages.hpp"
#include "bench/links/serial_settings.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

class Balance;
class ClimateSensor;
class Clock;
class Interpreter;
class Link;
class Pump;
class TipCounter;
class TomlTable;

enum class Role { pump, balance, counter, climate };
std::string_view name_of(Role role);

// What whoever makes a pump must give with it: no pump without the bytes that stop it.
class PumpFamily {
public:
    virtual Result<std::unique_ptr<Pump>> make_pump(std::unique_ptr<Link> link, Clock& clock,
                                                    boost::asio::io_context& context,
                                                    std::string name) const = 0;
    virtual StopMessages stop_messages() const = 0;

protected:
    ~PumpFamily() = default;
};

// A family's part of one profile, and what can be made by it. What is not overridden does not exist in the
// family: inconsistent.
class Family {
public:
    virtual ~Family() = default;
    virtual const PumpFamily* as_pump() const { return nullptr; }
    virtual Result<std::unique_ptr<Balance>> make_balance(std::unique_ptr<Link> link, Clock& clock,
                                                          boost::asio::io_context& context,
                                                          std::string name) const;
    virtual Result<std::unique_ptr<TipCounter>> make_tip_counter(std::unique_ptr<Link> link, Clock& clock,
                                                                 boost::asio::io_context& context,
                                                                 std::string name) const;
    virtual Result<std::unique_ptr<ClimateSensor>> make_climate_sensor(std::unique_ptr<Link> link,
                                                                       Clock& clock,
                                                                       boost::asio::io_context& context,
                                                                       std::string name) const;
    virtual std::unique_ptr<Interpreter> make_interpreter(Role role) const = 0;
    // It sends its readings without being asked.
    virtual bool speaks_unasked(Role role) const = 0;
    // It can be asked who it is.
    virtual bool tells_identity() const = 0;
};

// A family whose part of a profile is a Part.
template <class Part>
class FamilyOf : public Family {
public:
    explicit FamilyOf(std::shared_ptr<const Part> given) : part(std::move(given)) {}
    const std::shared_ptr<const Part> part;
};

struct FamilyEntry {
    std::string_view name;  // in profiles: family = "..."
    std::span<const Role> roles;
    // Faults are noted in the table's list; what comes back is then not to be used.
    std::shared_ptr<const Family> (*parse)(TomlTable& root, Role role, const SerialSettings& serial);
};

// All there are.
std::span<const FamilyEntry* const> families();

}  // namespace tipwright::bench
