// Tip counter, instruments: the counter role over the lines of a counter device.
#pragma once

#include <memory>
#include <string>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/family.hpp"
#include "bench/instruments/interpret.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

struct TipCounterProfile {
    double silence_s = 5;           // longest time without a line
    double drift_limit_ppm = 300;   // of the device's clock against the bench's
    bool answers_identity = false;  // it can be asked who it is
};

// Faults are noted in the table's list.
std::shared_ptr<const TipCounterProfile> parse_tip_counter(TomlTable& root);

std::unique_ptr<TipCounter> make_line_counter(std::shared_ptr<const TipCounterProfile> profile,
                                              std::unique_ptr<Link> link, Clock& clock,
                                              boost::asio::io_context& context, std::string name);

std::unique_ptr<Interpreter> make_tip_counter_interpreter();

extern const FamilyEntry tip_counter_family;

}  // namespace tipwright::bench
