#include "bench/instruments/profile.hpp"

#include <algorithm>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/toml_reader.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

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

bool has_role(const FamilyEntry& family, Role role) {
    return std::find(family.roles.begin(), family.roles.end(), role) != family.roles.end();
}

std::string families_of(Role role) {
    std::vector<std::string> names;
    for (const FamilyEntry* family : families())
        if (has_role(*family, role)) names.emplace_back(family->name);
    return alternatives(names);
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
    std::vector<std::string_view> names;
    for (const FamilyEntry* one : families()) names.push_back(one->name);
    const FamilyEntry& family = *families()[root.choice("family", names)];
    profile.serial = read_serial(root.table("serial"));
    if (faults.empty() && !has_role(family, profile.role)) {
        root.fault(FaultCode::inconsistent, "family",
                   "no instrument of this family is a " + std::string(name_of(profile.role)),
                   "use " + families_of(profile.role));
    }
    if (!faults.empty()) return faults.first();
    profile.family = family.parse(root, profile.role, profile.serial);
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
