#include "bench/instruments/modem_contacts/instruments.hpp"

namespace tipwright::bench {

std::shared_ptr<const ModemContactsProfile> parse_modem_contacts(TomlTable& root) {
    auto profile = std::make_shared<ModemContactsProfile>();
    auto tables = root.tables("contact");
    if (tables.empty() || tables.size() > 2) {
        root.fault(FaultCode::missing_field, "contact", "one or two contacts must be given",
                   "add [[contact]] with input = \"CTS\"");
    }
    for (TomlTable& table : tables) {
        ModemContact contact;
        contact.input = static_cast<ModemInput>(table.choice("input", {"CTS", "DSR", "DCD", "RI"}));
        contact.closed_when_on = table.choice("closed_when", {"on", "off"}, 0) == 0;
        for (const ModemContact& other : profile->contacts) {
            if (other.input == contact.input)
                table.fault(FaultCode::duplicate, "input", "both contacts are on the same input",
                            "wire them apart");
        }
        table.finish();
        profile->contacts.push_back(contact);
    }
    TomlTable supply = root.table("supply");
    profile->dtr = supply.flag("dtr", profile->dtr);
    profile->rts = supply.flag("rts", profile->rts);
    supply.finish();
    TomlTable timing = root.table("timing");
    profile->edge_wait = timing.flag("edge_wait", profile->edge_wait);
    profile->poll_interval_s = timing.number("poll_interval_s", {0.0001, 0.1, "s"}, profile->poll_interval_s);
    profile->adapter_u_s = timing.number("adapter_u_s", {0, 0.1, "s"}, profile->adapter_u_s);
    timing.finish();
    return profile;
}

}  // namespace tipwright::bench
