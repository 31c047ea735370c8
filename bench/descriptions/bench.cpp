#include <algorithm>
#include <array>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/laboratory_facts.hpp"
#include "bench/descriptions/parts.hpp"
#include "bench/descriptions/served.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {
namespace {

constexpr std::array<std::string_view, 4> roles{"balance", "pump", "counter", "climate"};

void read_identity(TomlTable& table, InstrumentDescription& out) {
    out.description = table.text("description");
    out.serial = table.text_or("serial", "");
    out.certificate = table.text_or("certificate", "");
    out.calibrated_on = table.date("calibrated_on");
    out.due_on = table.date("due_on");
    out.traceability = table.text_or("traceability", "");
    out.issued_by = table.text_or("issued_by", "");
    out.accreditation = table.text_or("accreditation", "");
    if (out.certificate.empty() && !out.issued_by.empty())
        table.fault(FaultCode::inconsistent, "issued_by", "issued_by is given, but no certificate",
                    "give the certificate's number too, or leave issued_by out");
    if (out.issued_by.empty() && !out.accreditation.empty())
        table.fault(FaultCode::inconsistent, "accreditation", "accreditation is given, but not whose",
                    "name the laboratory with issued_by");
    // ISO dates sort as texts.
    if (!out.due_on.empty() && !out.calibrated_on.empty() && out.due_on < out.calibrated_on)
        table.fault(FaultCode::inconsistent, "due_on",
                    "due_on " + out.due_on + " is before calibrated_on " + out.calibrated_on,
                    "check both dates");
    table.finish();
}

InstrumentDescription read_instrument(TomlTable table) {
    InstrumentDescription out;
    out.role = roles[table.choice("role", {"balance", "pump", "counter", "climate"})];
    out.profile = table.text("profile");
    out.link = table.text("link");
    if (!out.link.empty() && out.link != "virtual")
        if (const Outcome link = check_link(out.link); !link)
            table.fault(FaultCode::bad_value, "link", link.fault().what,
                        link.fault().remedy + "; of a virtual bench \"virtual\"");
    read_identity(table, out);
    return out;
}

InstrumentDescription read_hand_instrument(TomlTable table) {
    constexpr std::string_view hand_roles[] = {"caliper"};
    InstrumentDescription out;
    out.role = hand_roles[table.choice("role", {"caliper"})];
    read_identity(table, out);
    return out;
}

void read_balance(TomlTable table, calib::BalanceMetrology& balance) {
    if (!table.given()) return;
    balance.resolution_g = table.number("resolution_g", {1e-5, 10, "g"});
    balance.repeatability_g = table.number("repeatability_g", {1e-6, 10, "g"});
    balance.repeatability_dof = table.number("repeatability_dof", {1, 1e6, ""});
    balance.linearity_half_width_g = table.number("linearity_half_width_g", {0, 10, "g"});
    balance.calibration_relative_u = table.number("calibration_relative_u", {0, 0.01, ""});
    balance.drift_relative_half_width = table.number("drift_relative_half_width", {0, 0.01, ""});
    balance.zero_drift_half_width_g_h = table.number("zero_drift_half_width_g_h", {0, 10, "g/h"});
    balance.capacity_g = table.number("capacity_g", {10, 100000, "g"});
    table.finish();
}

void read_metrology(TomlTable table, calib::BenchMetrology& metrology) {
    if (!table.given()) return;
    read_balance(table.required_table("balance"), metrology.balance);
    metrology.evaporation_g_h.value = table.number("evaporation_g_h", {0, 20, "g/h"});
    metrology.evaporation_g_h.u = table.number("evaporation_u_g_h", {0, 20, "g/h"});
    metrology.evaporation_g_h.dof = table.number("evaporation_dof", {1, 1e6, ""}, calib::infinite_dof);
    metrology.residual_u_g = table.number("residual_u_g", {0, 5, "g"});
    metrology.discharge_lag_s = table.number("discharge_lag_s", {0, 60, "s"});
    metrology.discharge_delay_s = table.number("discharge_delay_s", {0, 60, "s"});
    metrology.clock_relative_u = table.number("clock_relative_u", {0, 0.01, ""});
    metrology.edge_time_u_s = table.number("edge_time_u_s", {0, 1, "s"});
    metrology.water_temperature_u_C = table.number("water_temperature_u_C", {0.001, 10, "K"});
    metrology.air_temperature_u_C = table.number("air_temperature_u_C", {0.001, 10, "K"});
    metrology.air_pressure_u_hPa = table.number("air_pressure_u_hPa", {0.001, 100, "hPa"});
    metrology.relative_humidity_u_percent = table.number("relative_humidity_u_percent", {0.01, 50, "%"});
    table.finish();
}

BenchTruth read_truth(TomlTable table) {
    BenchTruth truth;
    const auto number = [&](std::string_view key, double& value, NumberRange range) {
        value = table.number(key, range, value);
    };
    number("pump_scale_spread_percent", truth.pump_scale_spread_percent, {0, 50, "%"});
    number("pump_wear_percent_h", truth.pump_wear_percent_h, {0, 20, "%/h"});
    number("pump_ripple_percent", truth.pump_ripple_percent, {0, 90, "%"});
    number("pump_mL_per_turn", truth.pump_mL_per_turn, {0.001, 100, "mL"});
    number("pump_rollers_per_turn", truth.pump_rollers_per_turn, {1, 100, ""});
    number("pump_ramp_s", truth.pump_ramp_s, {0, 60, "s"});
    number("pump_max_mL_min", truth.pump_max_mL_min, {1, 20000, "mL/min"});
    number("balance_rate_hz", truth.balance_rate_hz, {0.1, 100, "Hz"});
    number("balance_filter_s", truth.balance_filter_s, {0, 30, "s"});
    number("balance_noise_g", truth.balance_noise_g, {0, 10, "g"});
    number("vessel_g", truth.vessel_g, {0, 10000, "g"});
    number("drain_flow_mL_s", truth.drain_flow_mL_s, {0.1, 1000, "mL/s"});
    number("water_temperature_C", truth.water_temperature_C, {0, 50, "degC"});
    number("air_temperature_C", truth.air_temperature_C, {0, 50, "degC"});
    number("air_pressure_hPa", truth.air_pressure_hPa, {500, 1100, "hPa"});
    number("relative_humidity_percent", truth.relative_humidity_percent, {0, 100, "%"});
    number("reservoir_mL", truth.reservoir_mL, {1, 1e9, "mL"});
    table.finish();
    return truth;
}

BenchLimits read_limits(TomlTable& table, double max_flow_mL_min) {
    BenchLimits limits;
    limits.rise_g_min = 1.5 * max_flow_mL_min;
    if (!table.given()) return limits;
    limits.run_h = table.number("run_h", {0.1, 240, "h"}, limits.run_h);
    limits.rise_g_min = table.number("rise_g_min", {1, 50000, "g/min"}, limits.rise_g_min);
    limits.fall_g = table.number("fall_g", {0.05, 1000, "g"}, limits.fall_g);
    limits.hang_s = table.number("hang_s", {0.5, 30, "s"}, limits.hang_s);
    if (limits.rise_g_min < max_flow_mL_min)
        table.fault(FaultCode::inconsistent, "rise_g_min",
                    "rise_g_min is " + shortest(limits.rise_g_min) +
                        ", below the pump's max_flow_mL_min of " + shortest(max_flow_mL_min),
                    "raise it: 1.5 times the flow leaves room");
    table.finish();
    return limits;
}

void check_instruments(TomlTable& root, const std::vector<TomlTable>& tables, const BenchDescription& bench,
                       FaultList& faults) {
    for (const std::string_view role : roles) {
        int found = 0;
        for (std::size_t i = 0; i < bench.instruments.size(); ++i)
            if (bench.instruments[i].role == role && ++found == 2)
                faults.add(FaultCode::duplicate, tables[i].at("role"),
                           "a second " + std::string(role) + " is given", "a bench has one of each role");
        if (found == 0)
            root.fault(FaultCode::missing_field, "instrument", "no " + std::string(role) + " is given",
                       "add an [[instrument]] with role = " + in_quotes(role));
    }
    for (std::size_t i = 0; i < bench.instruments.size(); ++i)
        for (std::size_t k = 0; k < i; ++k)
            if (bench.instruments[i].link == bench.instruments[k].link &&
                bench.instruments[i].link != "virtual")
                faults.add(FaultCode::duplicate, tables[i].at("link"),
                           "the " + bench.instruments[i].role + " is on the link of the " +
                               bench.instruments[k].role,
                           "each instrument has a link of its own");
    for (std::size_t i = 0; i < bench.instruments.size(); ++i)
        if (bench.instruments[i].link == "virtual" && !bench.truth)
            faults.add(FaultCode::inconsistent, tables[i].at("link"),
                       "link is \"virtual\", but the bench has no [virtual] table",
                       "give the instrument's real link, or add [virtual]");
}

Served read_served(TomlTable& table) {
    Served out;
    if (table.has("served_speed")) out.speed = table.number("served_speed", {0.1, 1000, ""});
    out.started_at = table.text_or("served_from", "");
    return out;
}

}  // namespace

Result<Served> parse_served(const DescriptionText& bench_text) {
    const Result<TomlValue> tree = parse_toml(bench_text);
    if (!tree) return tree.fault();
    FaultList faults(bench_text.name);
    TomlTable root(&*tree, {}, "", faults);
    TomlTable truth = root.table("virtual");
    if (!truth.given()) return Served{};
    const Served out = read_served(truth);
    if (!faults.empty()) return faults.first();
    return out;
}

Result<BenchDescription> parse_bench(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    BenchDescription out;
    out.text = text;
    out.title = root.text("title");
    out.invented = root.flag("invented", false);
    out.place = root.text_or("place", "");
    out.operator_name = root.text_or("operator", "");
    out.authorised_by = root.text_or("authorised_by", "");
    out.laboratory = read_party(root.required_table("laboratory"));

    const std::vector<TomlTable> tables = root.tables("instrument");
    for (const TomlTable& table : tables) out.instruments.push_back(read_instrument(table));
    for (const TomlTable& table : root.tables("hand_instrument"))
        out.hand_instruments.push_back(read_hand_instrument(table));
    read_metrology(root.required_table("metrology"), out.metrology);
    read_laboratory_facts(root, out, faults);

    TomlTable vessel = root.required_table("vessel");
    if (vessel.given()) {
        out.vessel_capacity_g = vessel.number("capacity_g", {10, 100000, "g"});
        out.has_drain_valve = vessel.flag("drain_valve", false);
        if (vessel.has("empty_g")) out.vessel_empty_g = vessel.number("empty_g", {-100000, 100000, "g"});
        vessel.finish();
    }
    TomlTable pump = root.required_table("pump");
    if (pump.given()) {
        out.max_flow_mL_min = pump.number("max_flow_mL_min", {1, 20000, "mL/min"});
        out.tube_life_h = pump.number("tube_life_h", {0, 1e5, "h"}, out.tube_life_h);
        pump.finish();
    }
    TomlTable limits = root.table("limits");
    out.limits = read_limits(limits, out.max_flow_mL_min);
    TomlTable truth = root.table("virtual");
    if (truth.given()) {
        read_served(truth);
        out.truth = read_truth(truth);
        if (!out.vessel_empty_g) out.vessel_empty_g = out.truth->vessel_g;
    }
    root.finish();
    if (faults.empty()) check_instruments(root, tables, out, faults);
    if (faults.empty()) {
        const double vessel_g = out.truth ? out.truth->vessel_g : 0;
        if (!(out.vessel_capacity_g + vessel_g <= out.metrology.balance.capacity_g))
            vessel.fault(FaultCode::inconsistent, "capacity_g",
                         "capacity_g is " + shortest(out.vessel_capacity_g) +
                             ", but vessel and water must stay within the balance's " +
                             shortest(out.metrology.balance.capacity_g) + " g",
                         "lower it");
        if (out.truth && !(out.max_flow_mL_min <= out.truth->pump_max_mL_min))
            pump.fault(FaultCode::inconsistent, "max_flow_mL_min",
                       "max_flow_mL_min is " + shortest(out.max_flow_mL_min) +
                           ", but the virtual pump delivers at most " + shortest(out.truth->pump_max_mL_min),
                       "lower it");
    }
    if (!faults.empty()) return faults.first();
    return out;
}

}  // namespace tipwright::bench
