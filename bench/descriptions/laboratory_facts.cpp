#include "bench/descriptions/laboratory_facts.hpp"

#include "bench/descriptions/parts.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t capability_points_max = 50;
constexpr std::size_t signatories_max = 50;

// Both ends, or neither: "air_temperature_min_C", "air_temperature_max_C".
std::optional<calib::PermittedRange> read_range(TomlTable& table, const std::string& name,
                                                const std::string& unit, NumberRange possible) {
    const std::string low = name + "_min_" + unit;
    const std::string high = name + "_max_" + unit;
    if (!table.has(low) && !table.has(high)) {
        // Asked for all the same: a misspelt name is compared with those that are known.
        table.number(low, possible, possible.low);
        table.number(high, possible, possible.high);
        return std::nullopt;
    }
    const calib::PermittedRange out{table.number(low, possible), table.number(high, possible)};
    if (table.has(low) && table.has(high) && !(out.low <= out.high))
        table.fault(FaultCode::inconsistent, high,
                    high + " is " + shortest(out.high) + ", below " + low + " of " + shortest(out.low),
                    "give the least value as min, the largest as max");
    return out;
}

calib::EnvironmentLimits read_environment(TomlTable table) {
    calib::EnvironmentLimits out;
    if (!table.given()) return out;
    out.water_temperature_C = read_range(table, "water_temperature", "C", {0, 50, "degC"});
    out.air_temperature_C = read_range(table, "air_temperature", "C", {0, 50, "degC"});
    out.air_pressure_hPa = read_range(table, "air_pressure", "hPa", {500, 1100, "hPa"});
    out.relative_humidity_percent = read_range(table, "relative_humidity", "percent", {0, 100, "%"});
    table.finish();
    return out;
}

std::vector<calib::CapabilityPoint> read_capability(TomlTable& root, FaultList& faults) {
    std::vector<calib::CapabilityPoint> out;
    std::vector<TomlTable> tables = root.tables("capability");
    if (tables.size() > capability_points_max)
        faults.add(FaultCode::bad_value, tables[capability_points_max].at(),
                   "more than " + std::to_string(capability_points_max) + " intensities of the capability",
                   "");
    for (TomlTable& table : tables) {
        const calib::CapabilityPoint point{table.number("intensity_mm_h", {0.1, 10000, "mm/h"}),
                                           table.number("U_percent", {0.001, 50, "%"})};
        table.finish();
        if (!out.empty() && !(point.intensity_mm_h > out.back().intensity_mm_h))
            table.fault(FaultCode::inconsistent, "intensity_mm_h",
                        "intensity_mm_h is " + shortest(point.intensity_mm_h) + ", after " +
                            shortest(out.back().intensity_mm_h),
                        "give each intensity once, the lowest first");
        out.push_back(point);
    }
    return out;
}

}  // namespace

void read_laboratory_facts(TomlTable& root, BenchDescription& out, FaultList& faults) {
    TomlTable procedure = root.table("procedure");
    if (procedure.given()) {
        out.facts.procedure = procedure.text("name");
        out.facts.procedure_issue = procedure.text("issue");
        procedure.finish();
    }
    TomlTable decision = root.table("decision");
    if (decision.given()) {
        out.facts.agreed_rule =
            calib::AgreedRule{static_cast<calib::DecisionRule>(decision.choice(
                                  "rule", {"simple acceptance", "guard band", "conformance probability"})),
                              decision.text("agreed")};
        decision.finish();
    }
    TomlTable water = root.table("water");
    if (water.given()) {
        out.facts.water = water.text("kind");
        // Sea water is 25 kg/m3 heavier: more than 5 is no water for this work.
        out.metrology.water_allowance_kg_m3 = water.number("density_allowance_kg_m3", {0, 5, "kg/m3"}, 0.0);
        water.finish();
    }
    out.metrology.environment = read_environment(root.table("environment"));
    out.metrology.capability = read_capability(root, faults);
    std::vector<TomlTable> signatories = root.tables("signatory");
    if (signatories.size() > signatories_max)
        faults.add(FaultCode::bad_value, signatories[signatories_max].at(),
                   "more than " + std::to_string(signatories_max) + " signatories", "");
    for (TomlTable& table : signatories) {
        const calib::Signatory one{table.text("name"), table.text("function")};
        table.finish();
        if (!out.facts.function_of(one.name).empty())
            table.fault(FaultCode::duplicate, "name", in_quotes(one.name) + " is given twice",
                        "say one function of each person");
        out.facts.signatories.push_back(one);
    }
}

Outcome check_capability_file(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    const auto points = read_capability(root, faults);
    root.finish();
    if (faults.empty() && points.empty())
        root.fault(FaultCode::missing_field, "capability", "no [[capability]] is given",
                   "give intensity_mm_h and U_percent of each, as tipwright laboratory control --out does");
    if (!faults.empty()) return faults.first();
    return Done{};
}

Result<std::string> capability_named_by(const DescriptionText& bench) {
    const Result<TomlValue> tree = parse_toml(bench);
    if (!tree) return tree.fault();
    const TomlEntry* named = tree->find("capability");
    if (named == nullptr || named->value.kind != TomlKind::text) return std::string();
    return named->value.text;
}

}  // namespace tipwright::bench
