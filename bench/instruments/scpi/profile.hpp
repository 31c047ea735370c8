// SCPI, profile: which commands are sent, and what the elements of a response are.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/asking_device.hpp"
#include "bench/instruments/line_ascii/pattern.hpp"
#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

// What an element of the response to `read` is: a quantity, the status, or nothing of interest.
struct ScpiElement {
    std::string field;  // "mass_g", "status", "air_pressure_hPa", ..., "_"
};

struct ScpiProfile {
    std::string send_ending = "\n";
    AskTimes times;
    double poll_interval_s = 0;
    double own_timeout_s = 0;  // pump that stops by itself when it hears nothing for so long; 0: it does not
    bool asks_for_errors = true;  // SYST:ERR? after each command
    std::optional<Pattern> set_flow;
    std::optional<Pattern> stop;
    std::optional<Pattern> drain_open;
    std::optional<Pattern> drain_close;
    std::optional<Pattern> arm;         // the pump's own time limit
    std::optional<Pattern> keep_alive;  // a keep-alive; none: *OPC? alone
    std::optional<Pattern> read;
    std::optional<Pattern> tare;
    std::vector<ScpiElement> elements;
    int stable_bits = 0;    // of the status: all of these set: the display stands still
    int overload_bits = 0;  // any of these set: overloaded
};

// Faults are noted in the table's list; the profile is then not to be used.
std::shared_ptr<const ScpiProfile> parse_scpi_profile(TomlTable& root, Role role);

}  // namespace tipwright::bench
