// Dialect: a virtual instrument's own words (devices.hpp) in the language of a profile, so that a virtual or
// served bench speaks whatever profile its description names. Pure but for the link. What a profile cannot
// say is not said: a device without a command refuses it, one without refusals is silent.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "bench/instruments/profile.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

struct LineAsciiProfile;
struct ModbusProfile;
struct ScpiProfile;

class Dialect {
public:
    virtual ~Dialect() = default;
    // Bytes that came over the wire: commands in the device's own words, each with CR; and what is answered
    // at once without the device knowing.
    virtual void heard(std::string_view wire, std::string& commands, std::string& replies) = 0;
    // A line of the device, without its end, as it goes over the wire; empty: nothing.
    virtual std::string said(std::string_view line) = 0;
};

// Null where the device's own words are meant: a tip counter, contacts on modem inputs.
std::unique_ptr<Dialect> make_dialect(const InstrumentProfile& profile);
std::unique_ptr<Dialect> make_line_dialect(std::shared_ptr<const LineAsciiProfile> profile, Role role);
std::unique_ptr<Dialect> make_modbus_dialect(std::shared_ptr<const ModbusProfile> profile, Role role);
std::unique_ptr<Dialect> make_scpi_dialect(std::shared_ptr<const ScpiProfile> profile, Role role);

// The device's end of a wire on which that dialect is spoken.
std::unique_ptr<Link> speak_dialect(std::unique_ptr<Link> wire, std::unique_ptr<Dialect> dialect);

// The device's own words, read: "W   12.34 g stable", "water 20.13 C air ...", "OK FLOW 12.345", "ID name 1".
struct DeviceWords {
    enum class Kind { weight, climate, identity, done, refused } kind = Kind::done;
    double mass_g = 0;
    int decimals = 0;
    bool stable = false;
    bool over = false;
    double water_C = 0, air_C = 0, pressure_hPa = 0, humidity_percent = 0;
    std::string text;  // identity, reason
};
DeviceWords read_device_words(std::string_view line);
// The quantity of a profile's field, in its unit; 0 for an unknown name.
double quantity_of(const DeviceWords& words, std::string_view field);

}  // namespace tipwright::bench
