#include "bench/descriptions/bench_checks.hpp"

#include <algorithm>

#include "bench/descriptions/toml_reader.hpp"

namespace tipwright::bench {

namespace {

constexpr std::size_t kept_max = 1000;
constexpr std::size_t pump_points_max = 50;

PumpCalibration read_pump(TomlTable table) {
    PumpCalibration pump;
    pump.at = table.text("at");
    pump.serial = table.text_or("serial", "");
    if (table.has("tube_h")) pump.tube_h = table.number("tube_h", {0, 1e5, "h"});
    pump.scale = table.number("scale", {0.01, 100, ""});
    pump.relative_u = table.number("relative_u", {0, 1, ""});
    const auto points = table.tables("point");
    if (points.empty() || points.size() > pump_points_max)
        table.fault(FaultCode::bad_value, "point", "a pump calibration has 1 to 50 points", "");
    for (TomlTable point : points) {
        pump.points.push_back({point.number("set_mL_min", {0, 1e5, "mL/min"}),
                               point.number("delivered_mL_min", {0, 1e5, "mL/min"}),
                               point.number("u_mL_min", {0, 1e5, "mL/min"})});
        point.finish();
    }
    table.finish();
    return pump;
}

BalanceCheck read_balance(TomlTable table) {
    BalanceCheck balance;
    balance.at = table.text("at");
    balance.serial = table.text_or("serial", "");
    balance.mass_g = table.number("mass_g", {0.001, 1e6, "g"});
    balance.mass_u_g = table.number("mass_u_g", {0, 1e3, "g"});
    balance.error_g = table.number("error_g", {-1e6, 1e6, "g"});
    balance.error_u_g = table.number("error_u_g", {0, 1e6, "g"});
    balance.limit_g = table.number("limit_g", {0, 1e6, "g"});
    balance.passed = table.flag("passed", false);
    table.finish();
    return balance;
}

PumpRun read_run(TomlTable table) {
    PumpRun run;
    run.at = table.text("at");
    run.serial = table.text_or("serial", "");
    run.hours = table.number("hours", {0, 1e5, "h"});
    table.finish();
    return run;
}

template <class Check>
const Check* newest_of(const std::vector<Check>& checks, const std::string& serial) {
    const auto found =
        std::find_if(checks.rbegin(), checks.rend(), [&](const Check& one) { return one.serial == serial; });
    return found == checks.rend() ? nullptr : &*found;
}

template <class Check>
std::size_t first_kept(const std::vector<Check>& checks) {
    return checks.size() > kept_max ? checks.size() - kept_max : 0;
}

}  // namespace

const PumpCalibration* BenchChecks::pump(const std::string& serial) const {
    return newest_of(pumps, serial);
}

const BalanceCheck* BenchChecks::balance(const std::string& serial) const {
    return newest_of(balances, serial);
}

double BenchChecks::hours_since(const std::string& serial, const std::string& moment) const {
    double hours = 0;
    // ISO moments compare as text.
    for (const PumpRun& run : pump_runs)
        if (run.serial == serial && run.at >= moment) hours += run.hours;
    return hours;
}

std::optional<TubeAge> BenchChecks::tube(const std::string& serial) const {
    const auto stated = std::find_if(pumps.rbegin(), pumps.rend(), [&](const PumpCalibration& pump) {
        return pump.serial == serial && pump.tube_h;
    });
    if (stated != pumps.rend()) return TubeAge{*stated->tube_h + hours_since(serial, stated->at), true};
    const bool any = std::any_of(pump_runs.begin(), pump_runs.end(),
                                 [&](const PumpRun& run) { return run.serial == serial; });
    if (!any) return std::nullopt;
    return TubeAge{hours_since(serial, ""), false};
}

void BenchChecks::add(const PumpRun& run) {
    std::erase_if(pump_runs,
                  [&](const PumpRun& kept) { return kept.at == run.at && kept.serial == run.serial; });
    pump_runs.push_back(run);
    std::stable_sort(pump_runs.begin(), pump_runs.end(),
                     [](const PumpRun& a, const PumpRun& b) { return a.at < b.at; });
    // Runs before an age was stated are within it; then the oldest are joined, so that no hour is lost.
    if (pump_runs.size() <= kept_max) return;
    std::erase_if(pump_runs, [&](const PumpRun& old) {
        return std::any_of(pumps.begin(), pumps.end(), [&](const PumpCalibration& pump) {
            return pump.serial == old.serial && pump.tube_h && old.at < pump.at;
        });
    });
    while (pump_runs.size() > kept_max) {
        const PumpRun oldest = pump_runs.front();
        const auto next = std::find_if(pump_runs.begin() + 1, pump_runs.end(),
                                       [&](const PumpRun& one) { return one.serial == oldest.serial; });
        if (next != pump_runs.end()) next->hours += oldest.hours;
        pump_runs.erase(pump_runs.begin());
    }
}

Result<BenchChecks> parse_bench_checks(const DescriptionText& text) {
    const Result<TomlValue> tree = parse_toml(text);
    if (!tree) return tree.fault();
    FaultList faults(text.name);
    TomlTable root(&*tree, {}, "", faults);
    BenchChecks checks;
    for (TomlTable& table : root.tables("pump_calibration")) checks.pumps.push_back(read_pump(table));
    for (TomlTable& table : root.tables("balance_check")) checks.balances.push_back(read_balance(table));
    for (TomlTable& table : root.tables("pump_run")) checks.pump_runs.push_back(read_run(table));
    root.finish();
    if (!faults.empty()) return faults.first();
    return checks;
}

std::string text_of(const BenchChecks& checks) {
    std::string text =
        "# Pump calibrations, balance checks and hours of the pump of the bench described beside this file. "
        "Kept by\n"
        "# tipwright, newest last; runs start from the newest of the pump and balance in use.\n";
    const auto line = [&](const std::string& key, const std::string& value) {
        text += key + " = " + value + "\n";
    };
    for (std::size_t i = first_kept(checks.pumps); i < checks.pumps.size(); ++i) {
        const PumpCalibration& pump = checks.pumps[i];
        text += "\n[[pump_calibration]]\n";
        line("at", toml_quoted(pump.at));
        line("serial", toml_quoted(pump.serial));
        if (pump.tube_h) line("tube_h", shortest(*pump.tube_h));
        line("scale", shortest(pump.scale));
        line("relative_u", shortest(pump.relative_u));
        for (const PumpPoint& point : pump.points) {
            text += "[[pump_calibration.point]]\n";
            line("set_mL_min", shortest(point.set_mL_min));
            line("delivered_mL_min", shortest(point.delivered_mL_min));
            line("u_mL_min", shortest(point.u_mL_min));
        }
    }
    for (std::size_t i = first_kept(checks.balances); i < checks.balances.size(); ++i) {
        const BalanceCheck& balance = checks.balances[i];
        text += "\n[[balance_check]]\n";
        line("at", toml_quoted(balance.at));
        line("serial", toml_quoted(balance.serial));
        line("mass_g", shortest(balance.mass_g));
        line("mass_u_g", shortest(balance.mass_u_g));
        line("error_g", shortest(balance.error_g));
        line("error_u_g", shortest(balance.error_u_g));
        line("limit_g", shortest(balance.limit_g));
        line("passed", balance.passed ? "true" : "false");
    }
    for (const PumpRun& run : checks.pump_runs) {
        text += "\n[[pump_run]]\n";
        line("at", toml_quoted(run.at));
        line("serial", toml_quoted(run.serial));
        line("hours", shortest(run.hours));
    }
    return text;
}

}  // namespace tipwright::bench
