// Modem contacts, instruments: the counter role over contacts wired to the modem inputs of a serial port.
// Every change is given as it is, undebounced; the gauge kind's window is applied where tips are made of
// edges.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/family.hpp"
#include "bench/instruments/interpret.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"
#include "bench/links/modem_lines.hpp"

namespace tipwright::bench {

struct ModemContact {
    ModemInput input{};
    bool closed_when_on = true;  // the input is on while the contact is closed
};

struct ModemContactsProfile {
    std::vector<ModemContact> contacts;  // 1 and 2
    bool dtr = true;                     // outputs that feed the contacts
    bool rts = true;
    bool edge_wait = true;           // by the driver where it can; false: always by looking
    double poll_interval_s = 0.001;  // between two looks
    double adapter_u_s = 0.0006;     // standard uncertainty of when the adapter tells a change
};

// Faults are noted in the table's list.
std::shared_ptr<const ModemContactsProfile> parse_modem_contacts(TomlTable& root);

// Watches in a thread of its own, on a wall clock only. Fault inconsistent for a link without modem inputs.
Result<std::unique_ptr<TipCounter>> make_modem_counter(std::shared_ptr<const ModemContactsProfile> profile,
                                                       std::unique_ptr<Link> link, Clock& clock,
                                                       boost::asio::io_context& context, std::string name);

extern const FamilyEntry modem_contacts_family;

}  // namespace tipwright::bench
