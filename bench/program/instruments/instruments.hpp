// Instrument commands: finding instruments, looking at what goes over their links, checking and calibrating
// them on the bench. Each prints its own result or one line of error.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/links/serial_settings.hpp"
#include "bench/program/commands.hpp"

namespace tipwright::program {

struct ListenOptions {
    std::string link;     // as in a bench description, or "replay FILE"
    std::string profile;  // empty: bytes only
    std::string bench;    // instead of link and profile
    std::string role;
    std::vector<std::string> send;  // with \r, \n, \x1B
    std::vector<std::string> ask;   // identify, read, tare, stop
    double duration_s = 10;
    std::optional<int> lines;  // ends after so many that were understood
    std::filesystem::path record;
    bench::SerialSettings serial;  // without a profile
};

// A bench at work outside a run.
struct WorkbenchOptions {
    std::string bench;
    std::string gauge;
    std::uint64_t seed = 1;        // virtual bench
    std::optional<double> speed;   // served bench: times as fast as the wall clock
    std::string started_at;        // virtual bench
    std::string despite;           // why an overdue calibration or a failed check is accepted
    std::filesystem::path checks;  // file of bench checks; empty: beside the bench description
};

struct BenchCheckOptions {
    WorkbenchOptions work;
    double balance_s = 60;  // how long the balance is watched
    double flow_mL_min = 60;
    double volume_mL = 30;
    bool without_water = false;
    bool without_contacts = false;
};

struct PumpCalibrationOptions {
    WorkbenchOptions work;
    std::vector<double> flows_mL_min = {20, 60, 150};
    double target_percent = 0.5;  // standard uncertainty of each flow
    double limit_s = 600;         // longest time at each flow
    std::optional<double> tube_h;
};

struct BalanceCheckOptions {
    WorkbenchOptions work;
    double mass_g = 0;
    double mass_u_g = 0;
    std::optional<double> limit_g;
};

ExitCode bench_check(const CommonOptions& common, const BenchCheckOptions& options);
ExitCode pump_calibration(const CommonOptions& common, const PumpCalibrationOptions& options);
ExitCode balance_check(const CommonOptions& common, const BalanceCheckOptions& options);
ExitCode ports(const CommonOptions& common);
ExitCode listen(const CommonOptions& common, const ListenOptions& options);

}  // namespace tipwright::program
