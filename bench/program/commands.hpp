// The subcommands as functions: options in, exit code out. Each prints its own result or one line of error.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/program/exit_codes.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// Choices every subcommand shares.
struct CommonOptions {
    std::filesystem::path templates;  // folder of gauge kinds, plans, benches, profiles, layouts
    bool json = false;                // for machines: one JSON document on standard output
};

struct CalibrateOptions {
    std::string serial;    // of the register, or a gauge file's name: instead of gauge, plan and out
    std::string location;  // of the register
    std::filesystem::path work = "work";
    std::string bench;
    std::string gauge;
    std::string plan;  // empty: one of the two that follow
    std::string plan_as_found, plan_as_left;
    std::filesystem::path out;
    std::uint64_t seed = 1;
    std::optional<double> speed;  // virtual bench at wall-clock speed times this; none: lockstep
    std::string started_at;       // virtual bench only; empty: a fixed date
    std::string paper = "A4";
    bool as_left = false;
    bool within_declared = false;  // leave out steps beyond what the maker of the gauge declares
    std::string despite;           // why an overdue calibration or a failed check is accepted
    std::filesystem::path checks;  // file of bench checks; empty: beside the bench description
};

struct EvaluateOptions {
    std::filesystem::path source;  // journal or CSV
    std::filesystem::path out;
    std::string plan;  // CSV only: limits and targets
    std::string paper = "A4";
    bool as_left = false;
};

struct CertifyOptions {
    std::filesystem::path record;
    std::filesystem::path out;
    std::string paper = "A4";
    std::string language = "en";
};

struct VerifyOptions {
    std::vector<std::filesystem::path> files;  // or folders; "-": a seal's text on standard input
    std::filesystem::path keys;                // public keys; empty: the user's own
    bool keys_named = false;                   // on the command line: then everything must be sealed
    std::string location;                      // of a register to check too; empty: none
};

struct ServeOptions {
    std::string bench = "virtual-bench";
    std::string gauge;
    std::filesystem::path out;  // bench description that points to the served instruments
    std::uint64_t seed = 1;
    double speed = 1;
    double duration_s = 0;  // bench time; 0: until Ctrl-C
    bool tcp = false;
    bool hand = false;  // "load GRAMS" on standard input puts a mass on the pan
};

struct CompareOptions {
    std::vector<std::filesystem::path> records;  // or certificates
    std::filesystem::path out;                   // empty: only the table on the terminal
    double limit_percent = 5;
    std::vector<double> intensities_mm_h;
    std::string paper = "A4";
};

struct AdjustOptions {
    std::filesystem::path found;
    std::filesystem::path left;  // empty: not yet adjusted
    std::optional<double> at_mm_h;
    std::optional<double> mL_per_turn;
    double mL_per_turn_u = 0;
    double setting_u_mL = 0.02;
    std::vector<std::string> earlier;  // "FOUND,LEFT,TURNS_A,TURNS_B"
};

struct FieldCheckOptions {
    std::string gauge;
    int tips = 0;
    std::optional<double> poured_mL;
    double poured_u_mL = 0.5;
    double retained_mL = 0;
    double retained_u_mL = 0.5;
    std::optional<double> collected_g;
    double collected_u_g = 0.5;
    double lost_g = 0;
    double lost_u_g = 0.5;
    double water_temperature_C = 20;
    std::optional<double> logged_depth_mm;
    std::optional<double> duration_s;
    std::optional<double> limit_percent;
};

ExitCode calibrate(const CommonOptions& common, const CalibrateOptions& options);
ExitCode evaluate(const CommonOptions& common, const EvaluateOptions& options);
ExitCode certify(const CommonOptions& common, const CertifyOptions& options);
ExitCode verify(const CommonOptions& common, const VerifyOptions& options);
ExitCode list(const CommonOptions& common);
ExitCode compare(const CommonOptions& common, const CompareOptions& options);
ExitCode adjust(const CommonOptions& common, const AdjustOptions& options);
ExitCode field_check(const CommonOptions& common, const FieldCheckOptions& options);
ExitCode serve(const CommonOptions& common, const ServeOptions& options);

// One line on standard error, "tipwright: ...", or a JSON object when asked for. Returns the code given.
ExitCode fail(const CommonOptions& common, const Fault& fault, ExitCode code = ExitCode::bad_input);

}  // namespace tipwright::program
