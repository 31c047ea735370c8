#include "bench/instruments/profile.hpp"

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/line_ascii/profile.hpp"
#include "bench/instruments/modbus/profile.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/scpi/profile.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"

namespace tipwright::bench {

namespace {

enum class Family { line_ascii, modbus_rtu, scpi, tip_counter, modem_inputs };

SerialSettings read_serial(TomlTable table) {
    SerialSettings serial;
    if (!table.given()) return serial;
    serial.baud = table.whole_number("baud", 300, 4000000, serial.baud);
    serial.data_bits = table.whole_number("data_bits", 7, 8, serial.data_bits);
    serial.parity = static_cast<Parity>(table.choice("parity", {"none", "even", "odd"}, 0));
    serial.stop_bits = table.whole_number("stop_bits", 1, 2, serial.stop_bits);
    serial.flow_control =
        static_cast<FlowControl>(table.choice("flow_control", {"none", "rts-cts", "xon-xoff"}, 0));
    table.finish();
    return serial;
}

}  // namespace

std::string_view name_of(Role role) {
    constexpr std::string_view names[] = {"pump", "balance", "counter", "climate"};
    return names[static_cast<int>(role)];
}

Result<InstrumentProfile> parse_profile(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, tree->at, "", faults);
    InstrumentProfile profile;
    profile.text = text;
    profile.title = root.text("title");
    profile.role = static_cast<Role>(root.choice("role", {"pump", "balance", "counter", "climate"}));
    const auto family = static_cast<Family>(
        root.choice("family", {"line-ascii", "modbus-rtu", "scpi", "tip-counter", "modem-inputs"}));
    const bool counter = profile.role == Role::counter;
    profile.serial = read_serial(root.table("serial"));
    if (faults.empty() && counter != (family == Family::tip_counter || family == Family::modem_inputs)) {
        root.fault(FaultCode::inconsistent, "family",
                   "no instrument of this family is a " + std::string(name_of(profile.role)),
                   counter ? "use tip-counter or modem-inputs" : "use line-ascii, modbus-rtu or scpi");
    }
    if (!faults.empty()) return faults.first();
    switch (family) {
        case Family::line_ascii:
            profile.family = parse_line_ascii(root, profile.role);
            break;
        case Family::modbus_rtu:
            profile.family = parse_modbus_profile(root, profile.role, profile.serial);
            break;
        case Family::scpi:
            profile.family = parse_scpi_profile(root, profile.role);
            break;
        case Family::tip_counter:
            profile.family = parse_tip_counter(root);
            break;
        case Family::modem_inputs:
            profile.family = parse_modem_contacts(root);
            break;
    }
    root.finish();
    if (!faults.empty()) return faults.first();
    return profile;
}

Result<InstrumentProfile> load_profile(const std::string& file_or_name,
                                       const std::filesystem::path& templates) {
    const Result<DescriptionText> text = find_template(TemplateKind::profile, file_or_name, templates);
    if (!text) return text.fault();
    return parse_profile(*text);
}

}  // namespace tipwright::bench
