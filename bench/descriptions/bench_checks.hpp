// Bench checks: what was found of a bench's pump and balance and how long the pump ran, kept in a TOML file
// beside the bench description (my-bench.toml, my-bench.checks.toml), newest last. Later runs start from it.
// Errors name file, line and column.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/descriptions/description_text.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Of the file's name, before ".toml": it is no bench.
inline constexpr std::string_view checks_ending = ".checks";

struct PumpPoint {
    double set_mL_min = 0;        // by the pump's own scale
    double delivered_mL_min = 0;  // weighed
    double u_mL_min = 0;          // standard uncertainty
};

struct PumpCalibration {
    std::string at;                // moment, 2026-11-02T08:00:00Z
    std::string serial;            // of the pump
    std::optional<double> tube_h;  // hours the tube had run
    double scale = 1;              // delivered over set, mean of the points
    double relative_u = 0;         // standard uncertainty of the scale at any rate between them
    std::vector<PumpPoint> points;
};

struct BalanceCheck {
    std::string at;
    std::string serial;    // of the balance
    double mass_g = 0;     // of the reference mass, conventional
    double mass_u_g = 0;   // standard uncertainty
    double error_g = 0;    // shown minus mass, zero before and after taken off
    double error_u_g = 0;  // standard uncertainty
    double limit_g = 0;    // of the error
    bool passed = false;
};

// How long a pump ran in one run or calibration.
struct PumpRun {
    std::string at;  // its start: with the pump, what it is known by
    std::string serial;
    double hours = 0;
};

struct TubeAge {
    double hours = 0;
    bool whole = false;  // counted from an age that a pump calibration states; otherwise it is older
};

struct BenchChecks {
    std::vector<PumpCalibration> pumps;
    std::vector<BalanceCheck> balances;
    std::vector<PumpRun> pump_runs;

    // The newest of that instrument, or null.
    const PumpCalibration* pump(const std::string& serial) const;
    const BalanceCheck* balance(const std::string& serial) const;
    // Nothing when neither an age nor a run of that pump is known.
    std::optional<TubeAge> tube(const std::string& serial) const;
    // Hours that pump ran since that moment.
    double hours_since(const std::string& serial, const std::string& moment) const;
    // Takes the place of what was kept of the same run, so that one that was resumed counts once.
    void add(const PumpRun& run);
};

Result<BenchChecks> parse_bench_checks(const DescriptionText& text);
// The whole file. Of each kind the newest thousand are kept.
std::string text_of(const BenchChecks& checks);

}  // namespace tipwright::bench
