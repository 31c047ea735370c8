#include "bench/instruments/profile.hpp"

#include <cstdio>
#include <system_error>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/instruments/line_ascii/profile.hpp"
#include "bench/instruments/tip_counter/instruments.hpp"

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

// One byte more than allowed is read, so that the parser can refuse it.
Result<DescriptionText> read_text(const std::filesystem::path& path, const std::string& name) {
    std::error_code error;
    if (!std::filesystem::exists(path, error)) {
        return Fault{FaultCode::file_missing, "there is no instrument profile " + in_quotes(name),
                     path.string(), "give a file, or the name of one in templates/instruments"};
    }
    const auto close = [](std::FILE* file) { std::fclose(file); };
    const std::unique_ptr<std::FILE, decltype(close)> file(std::fopen(path.c_str(), "rb"), close);
    std::string text(description_bytes_max + 1, '\0');
    if (!file || !std::filesystem::is_regular_file(path, error)) {
        return Fault{FaultCode::file_unreadable, "the profile cannot be opened", path.string(), ""};
    }
    text.resize(std::fread(text.data(), 1, text.size(), file.get()));
    if (std::ferror(file.get()) != 0) {
        return Fault{FaultCode::file_unreadable, "the profile cannot be read to its end", path.string(), ""};
    }
    return DescriptionText{name, std::move(text)};
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
    const std::size_t family = root.choice("family", {"line-ascii", "tip-counter"});
    const bool counter = profile.role == Role::counter;
    profile.serial = read_serial(root.table("serial"));
    if (faults.empty() && counter != (family == 1)) {
        root.fault(FaultCode::inconsistent, "family",
                   std::string("the family ") + (family == 1 ? "tip-counter" : "line-ascii") +
                       " has no role " + std::string(name_of(profile.role)),
                   counter ? "use family = \"tip-counter\"" : "use family = \"line-ascii\"");
    }
    if (!faults.empty()) return faults.first();
    if (counter) {
        profile.tip_counter = parse_tip_counter(root);
    } else {
        profile.line_ascii = parse_line_ascii(root, profile.role);
    }
    root.finish();
    if (!faults.empty()) return faults.first();
    return profile;
}

Result<InstrumentProfile> load_profile(const std::string& file_or_name,
                                       const std::filesystem::path& templates) {
    namespace fs = std::filesystem;
    std::error_code error;
    const bool plain_name = file_or_name.find('/') == std::string::npos && !file_or_name.ends_with(".toml");
    const fs::path as_template = templates / "instruments" / (file_or_name + ".toml");
    const bool use_template = plain_name && !fs::is_regular_file(file_or_name, error);
    const Result<DescriptionText> text = use_template
                                             ? read_text(as_template, "instruments/" + file_or_name + ".toml")
                                             : read_text(file_or_name, file_or_name);
    if (!text) return text.fault();
    return parse_profile(*text);
}

}  // namespace tipwright::bench
