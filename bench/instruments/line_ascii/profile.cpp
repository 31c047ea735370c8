#include "bench/instruments/line_ascii/profile.hpp"

#include <algorithm>

namespace tipwright::bench {

namespace {

constexpr std::size_t patterns_max = 32;

constexpr FieldName no_fields[] = {{"_", FieldKind::word}};
constexpr FieldName flow_fields[] = {{"flow_mL_min", FieldKind::number}, {"text", FieldKind::text}};
constexpr FieldName timeout_fields[] = {{"timeout_s", FieldKind::number}};
constexpr FieldName answer_or_timeout_fields[] = {{"timeout_s", FieldKind::number},
                                                  {"text", FieldKind::text}};
constexpr FieldName answer_fields[] = {{"text", FieldKind::text}};
constexpr FieldName weight_fields[] = {{"mass", FieldKind::number},    {"unit", FieldKind::word},
                                       {"mass_g", FieldKind::number},  {"mass_kg", FieldKind::number},
                                       {"mass_mg", FieldKind::number}, {"text", FieldKind::text}};
constexpr FieldName climate_fields[] = {
    {"water_temperature_C", FieldKind::number},       {"air_temperature_C", FieldKind::number},
    {"air_pressure_hPa", FieldKind::number},          {"air_pressure_kPa", FieldKind::number},
    {"relative_humidity_percent", FieldKind::number}, {"text", FieldKind::text}};

class Reader {
public:
    Reader(TomlTable& root, char decimal_sign)
        : root_(root), commands_(root.table("command")), decimal_sign_(decimal_sign) {}

    // Commands that no role asked for are unknown.
    void finish() { commands_.finish(); }

    std::optional<Pattern> pattern(TomlTable& table, std::string_view key, const std::string& notation,
                                   std::span<const FieldName> fields) {
        Result<Pattern> compiled = Pattern::compile(notation, fields, decimal_sign_);
        if (compiled) return std::move(*compiled);
        table.fault(compiled.fault().code, key, "pattern \"" + notation + "\": " + compiled.fault().what,
                    compiled.fault().remedy);
        return std::nullopt;
    }

    std::vector<Pattern> patterns(TomlTable& table, std::string_view key, std::span<const FieldName> fields) {
        std::vector<Pattern> all;
        const std::vector<std::string> notations = table.texts(key);
        if (notations.size() > patterns_max) {
            table.fault(FaultCode::bad_value, key, "more than " + std::to_string(patterns_max) + " patterns",
                        "");
            return all;
        }
        for (const std::string& notation : notations) {
            if (auto compiled = pattern(table, key, notation, fields)) all.push_back(std::move(*compiled));
        }
        return all;
    }

    // A command that is asked for and answered. `answered` by a reading: it needs no answer patterns.
    LineCommand command(std::string_view name, bool required, std::span<const FieldName> sent,
                        std::span<const FieldName> received, bool by_reading = false) {
        LineCommand command;
        TomlTable table = required ? commands_.required_table(name) : commands_.table(name);
        if (!table.given()) return command;
        command.send = pattern(table, "send", table.text("send"), sent);
        if (!by_reading) {
            // A command that nobody acknowledges cannot be trusted: the answer is required.
            command.answers = patterns(table, "answer", received);
            if (command.answers.empty() && table.has("answer")) {
                table.fault(FaultCode::bad_value, "answer", "the list of answers is empty",
                            "write what the instrument answers");
            }
        }
        table.finish();
        return command;
    }

    std::vector<TomlTable> readings(std::string_view what) {
        std::vector<TomlTable> tables = root_.tables("reading");
        if (tables.empty()) {
            root_.fault(FaultCode::missing_field, "reading",
                        "the profile says not how to read " + std::string(what),
                        "add [[reading]] with pattern = \"...\"");
        }
        if (tables.size() > patterns_max) {
            root_.fault(FaultCode::bad_value, "reading",
                        "more than " + std::to_string(patterns_max) + " patterns", "");
            tables.erase(tables.begin() + patterns_max, tables.end());
        }
        return tables;
    }

private:
    TomlTable& root_;
    TomlTable commands_;
    char decimal_sign_;
};

bool has(const Pattern& pattern, std::string_view field) {
    return pattern.position(field).has_value();
}

void read_weights(Reader& reader, LineAsciiProfile& profile) {
    for (TomlTable& table : reader.readings("a weight")) {
        auto pattern = reader.pattern(table, "pattern", table.text("pattern"), weight_fields);
        const bool stable = table.flag("stable", false);
        const bool overload = table.flag("overload", false);
        table.finish();
        if (!pattern) continue;
        const int masses = (has(*pattern, "mass") ? 1 : 0) + (has(*pattern, "mass_g") ? 1 : 0) +
                           (has(*pattern, "mass_kg") ? 1 : 0) + (has(*pattern, "mass_mg") ? 1 : 0);
        if (overload ? masses != 0 : masses != 1) {
            table.fault(
                FaultCode::bad_value, "pattern",
                overload ? "an overload has no mass to read" : "the pattern must have one field for the mass",
                overload ? "use {_} for words that vary"
                         : "use {mass} with {unit}, or {mass_g}, {mass_kg}, {mass_mg}; overload = true for a "
                           "line that says the balance is overloaded");
        } else if (has(*pattern, "mass") != has(*pattern, "unit")) {
            table.fault(FaultCode::bad_value, "pattern", "{mass} and {unit} go together",
                        "without a unit in the line use {mass_g}, {mass_kg} or {mass_mg}");
        }
        profile.weights.push_back({std::move(*pattern), stable, overload});
    }
}

void read_climates(Reader& reader, LineAsciiProfile& profile) {
    for (TomlTable& table : reader.readings("the climate")) {
        auto pattern = reader.pattern(table, "pattern", table.text("pattern"), climate_fields);
        table.finish();
        if (!pattern) continue;
        for (const char* field : {"water_temperature_C", "air_temperature_C", "relative_humidity_percent"}) {
            if (!has(*pattern, field)) {
                table.fault(FaultCode::missing_field, "pattern",
                            "the pattern has no {" + std::string(field) + "}",
                            "a climate sensor gives water and air temperature, air pressure and humidity");
            }
        }
        if (has(*pattern, "air_pressure_hPa") == has(*pattern, "air_pressure_kPa")) {
            table.fault(FaultCode::missing_field, "pattern",
                        "the pattern must have one of {air_pressure_hPa} and {air_pressure_kPa}", "");
        }
        profile.climates.push_back(std::move(*pattern));
    }
}

void read_pump(Reader& reader, TomlTable& root, LineAsciiProfile& profile) {
    profile.set_flow = reader.command("set_flow", true, std::span(flow_fields, 1), flow_fields);
    if (profile.set_flow.send && !has(*profile.set_flow.send, "flow_mL_min")) {
        root.fault(FaultCode::bad_value, "command", "command.set_flow sends no {flow_mL_min}",
                   "write where the flow goes, for example send = \"FLOW {flow_mL_min:.3}\"");
    }
    profile.stop = reader.command("stop", true, no_fields, answer_fields);
    profile.drain_open = reader.command("drain_open", false, no_fields, answer_fields);
    profile.drain_close =
        reader.command("drain_close", profile.drain_open.send.has_value(), no_fields, answer_fields);
    profile.arm = reader.command("arm", profile.own_timeout_s > 0, timeout_fields, answer_or_timeout_fields);
    profile.keep_alive = reader.command("keep_alive", profile.own_timeout_s > 0, no_fields, answer_fields);
    if (profile.own_timeout_s <= 0 && profile.arm.send) {
        root.fault(FaultCode::missing_field, "command", "command.arm arms a time limit that is not given",
                   "add own_timeout_s to [timing]");
    }
    // Water does not begin to flow because a cable was put back.
    profile.set_flow.survives_loss = false;
    profile.drain_open.survives_loss = false;
    profile.drain_close.survives_loss = false;
}

}  // namespace

std::shared_ptr<const LineAsciiProfile> parse_line_ascii(TomlTable& root, Role role) {
    auto profile = std::make_shared<LineAsciiProfile>();
    TomlTable line = root.table("line");
    constexpr const char* endings[] = {"\r", "\n", "\r\n", ""};
    profile->send_ending = endings[line.choice("send_ending", {"CR", "LF", "CRLF", "none"}, 0)];
    const char decimal_sign = line.choice("decimal_sign", {"point", "comma"}, 0) == 0 ? '.' : ',';
    line.finish();

    TomlTable timing = root.table("timing");
    profile->answer_s = timing.number("answer_s", {0.01, 60, "s"}, profile->answer_s);
    profile->retries = timing.whole_number("retries", 0, 10, profile->retries);
    if (role == Role::pump)
        profile->own_timeout_s = timing.number("own_timeout_s", {0.5, 600, "s"}, profile->own_timeout_s);
    if (role == Role::balance) {
        profile->silence_s = timing.number("silence_s", {0.1, 600, "s"}, profile->silence_s);
        profile->poll_interval_s = timing.number("poll_interval_s", {0, 60, "s"}, profile->poll_interval_s);
        profile->bad_lines = timing.whole_number("bad_lines", 0, 20, profile->bad_lines);
    }
    timing.finish();

    Reader reader(root, decimal_sign);
    if (root.has("refusals")) profile->refusals = reader.patterns(root, "refusals", answer_fields);
    profile->identify = reader.command("identify", false, no_fields, answer_fields);
    if (role == Role::pump) read_pump(reader, root, *profile);
    if (role == Role::balance) {
        profile->read = reader.command("read", false, no_fields, answer_fields, true);
        profile->tare = reader.command("tare", false, no_fields, answer_fields);
        read_weights(reader, *profile);
    }
    if (role == Role::climate) {
        profile->read = reader.command("read", true, no_fields, answer_fields, true);
        read_climates(reader, *profile);
    }
    reader.finish();
    return profile;
}

}  // namespace tipwright::bench
