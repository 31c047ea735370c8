#include "bench/instruments/scpi/profile.hpp"

#include <algorithm>

#include "calib/base/joined.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t elements_max = 16;

// A number that a command sends, and how it is written there.
struct Sent {
    FieldName field[1];
    const char* example;
};
constexpr Sent flow = {{{"flow_mL_min", FieldKind::number}},
                       "write where the flow goes, for example \"SOUR:FLOW {flow_mL_min:.3}\""};
constexpr Sent time_limit = {{{"timeout_s", FieldKind::number}},
                             "write where the time limit goes, for example \"OUTP:TIM {timeout_s:.1}\""};

std::optional<Pattern> read_command(TomlTable& table, std::string_view key, bool required,
                                    const Sent* sent = nullptr) {
    if (!required && !table.has(key)) {
        static_cast<void>(table.text_or(key, ""));
        return std::nullopt;
    }
    const std::string notation = table.text(key);
    if (notation.empty()) return std::nullopt;
    const std::span<const FieldName> fields =
        sent != nullptr ? std::span<const FieldName>(sent->field) : std::span<const FieldName>();
    Result<Pattern> pattern = Pattern::compile(notation, fields);
    if (!pattern) {
        table.fault(pattern.fault().code, key, "command \"" + notation + "\": " + pattern.fault().what,
                    pattern.fault().remedy);
        return std::nullopt;
    }
    if (sent != nullptr && !pattern->position(sent->field[0].name)) {
        table.fault(FaultCode::bad_value, key,
                    "the command sends no {" + std::string(sent->field[0].name) + "}", sent->example);
    }
    return std::move(*pattern);
}

void read_elements(TomlTable& table, Role role, ScpiProfile& profile) {
    std::vector<std::string> allowed = {"_"};
    if (role == Role::balance) {
        allowed.insert(allowed.end(), {"mass_g", "mass_kg", "mass_mg", "status"});
    } else {
        allowed.insert(allowed.end(), {"water_temperature_C", "air_temperature_C", "air_pressure_hPa",
                                       "air_pressure_kPa", "relative_humidity_percent"});
    }
    int quantities = 0;
    bool status = false;
    for (const std::string& field : table.texts("values")) {
        if (std::find(allowed.begin(), allowed.end(), field) == allowed.end()) {
            table.fault(FaultCode::bad_value, "values", in_quotes(field) + " is not a quantity of this role",
                        "one of " + joined(allowed, ", "));
        }
        const bool twice =
            field != "_" && std::any_of(profile.elements.begin(), profile.elements.end(),
                                        [&](const ScpiElement& e) { return e.field == field; });
        if (twice) table.fault(FaultCode::duplicate, "values", in_quotes(field) + " stands twice", "");
        if (field == "status") status = true;
        if (field != "_" && field != "status") ++quantities;
        profile.elements.push_back({field});
    }
    if (profile.elements.size() > elements_max) {
        table.fault(FaultCode::bad_value, "values", "more than " + std::to_string(elements_max) + " values",
                    "");
    }
    const int wanted = role == Role::balance ? 1 : 4;
    if (quantities != wanted && table.has("values")) {
        table.fault(FaultCode::missing_field, "values",
                    role == Role::balance
                        ? "a balance gives one mass: mass_g, mass_kg or mass_mg"
                        : "a climate sensor gives water and air temperature, air pressure and "
                          "humidity",
                    "");
    }
    if (role == Role::balance) {
        profile.stable_bits = table.whole_number("stable_bits", 0, 65535, 0);
        profile.overload_bits = table.whole_number("overload_bits", 0, 65535, 0);
        if (!status && (profile.stable_bits != 0 || profile.overload_bits != 0)) {
            table.fault(FaultCode::inconsistent, "values", "bits are named, but no value is the status",
                        "name \"status\" among the values");
        }
    }
}

}  // namespace

std::shared_ptr<const ScpiProfile> parse_scpi_profile(TomlTable& root, Role role) {
    auto profile = std::make_shared<ScpiProfile>();
    TomlTable line = root.table("line");
    constexpr const char* endings[] = {"\n", "\r\n"};
    profile->send_ending = endings[line.choice("send_ending", {"LF", "CRLF"}, 0)];
    line.finish();
    TomlTable timing = root.table("timing");
    profile->times.answer_s = timing.number("answer_s", {0.01, 60, "s"}, 1);
    profile->times.retries = timing.whole_number("retries", 0, 10, 2);
    if (role == Role::balance) profile->poll_interval_s = timing.number("poll_interval_s", {0, 60, "s"}, 0.2);
    if (role == Role::pump)
        profile->own_timeout_s = timing.number("own_timeout_s", {0.5, 600, "s"}, profile->own_timeout_s);
    timing.finish();
    profile->asks_for_errors = root.flag("ask_for_errors", true);

    TomlTable commands = root.required_table("command");
    if (role == Role::pump) {
        profile->set_flow = read_command(commands, "set_flow", true, &flow);
        profile->stop = read_command(commands, "stop", true);
        profile->drain_open = read_command(commands, "drain_open", false);
        profile->drain_close = read_command(commands, "drain_close", profile->drain_open.has_value());
        profile->arm = read_command(commands, "arm", profile->own_timeout_s > 0, &time_limit);
        profile->keep_alive = read_command(commands, "keep_alive", false);
        if (profile->own_timeout_s <= 0 && profile->arm) {
            commands.fault(FaultCode::missing_field, "arm", "it arms a time limit that is not given",
                           "add own_timeout_s to [timing]");
        }
    } else {
        profile->read = read_command(commands, "read", true);
        if (role == Role::balance) profile->tare = read_command(commands, "tare", false);
        TomlTable response = root.required_table("response");
        if (response.given()) read_elements(response, role, *profile);
        response.finish();
    }
    commands.finish();
    return profile;
}

}  // namespace tipwright::bench
