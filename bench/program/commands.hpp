// The subcommands as functions: options in, exit code out. Each prints its own result or one line of error.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "bench/program/exit_codes.hpp"
#include "calib/fault.hpp"

namespace tipwright::program {

// Choices every subcommand shares.
struct CommonOptions {
    std::filesystem::path templates;  // folder of gauge kinds, plans, benches, profiles, layouts
    bool json = false;                // for machines: one JSON document on standard output
};

struct CalibrateOptions {
    std::string bench;
    std::string gauge;
    std::string plan;
    std::filesystem::path out;
    std::uint64_t seed = 1;
    std::optional<double> speed;  // virtual bench at wall-clock speed times this; none: lockstep
    std::string started_at;       // virtual bench only; empty: a fixed date
    std::string paper = "A4";
    bool as_left = false;
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
};

struct VerifyOptions {
    std::vector<std::filesystem::path> files;
};

struct ServeOptions {
    std::string bench = "virtual-bench";
    std::string gauge;
    std::filesystem::path out;  // bench description that points to the served instruments
    std::uint64_t seed = 1;
    double speed = 1;
    double duration_s = 0;  // bench time; 0: until Ctrl-C
    bool tcp = false;
};

ExitCode calibrate(const CommonOptions& common, const CalibrateOptions& options);
ExitCode evaluate(const CommonOptions& common, const EvaluateOptions& options);
ExitCode certify(const CommonOptions& common, const CertifyOptions& options);
ExitCode verify(const CommonOptions& common, const VerifyOptions& options);
ExitCode list(const CommonOptions& common);
ExitCode serve(const CommonOptions& common, const ServeOptions& options);

// One line on standard error, "tipwright: ...", or a JSON object when asked for. Returns the code given.
ExitCode fail(const CommonOptions& common, const Fault& fault, ExitCode code = ExitCode::bad_input);

}  // namespace tipwright::program
