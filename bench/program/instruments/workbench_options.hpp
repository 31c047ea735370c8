// Options of the commands that work on a bench outside a run.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/command.hpp"

namespace tipwright::program {

// A bench at work outside a run.
struct WorkbenchOptions {
    std::string bench;
    std::string gauge;
    std::uint64_t seed = 1;        // virtual bench
    std::optional<double> speed;   // served bench: times as fast as the wall clock
    std::string started_at;        // virtual bench
    std::string reason;            // why an overdue calibration or a failed check is accepted
    std::filesystem::path checks;  // file of bench checks; empty: beside the bench description
};

inline void add_work(Subcommand command, WorkbenchOptions& work, const char* of_gauge) {
    command.add_option("--bench", work.bench, "Bench description").required().type_name("FILE");
    command.add_option("--gauge", work.gauge, of_gauge).type_name("FILE");
    command
        .add_option("--checks", work.checks,
                    "File of pump calibrations and balance checks (default: beside the bench description)")
        .type_name("FILE");
    command.add_option("--seed", work.seed, "Seed of a virtual bench").show_default();
    command.add_option("--speed", work.speed, "Speed of a served bench, as given to serve")
        .in_range(0.1, 100.0);
    command
        .add_option("--started-at", work.started_at, "Start on a virtual bench, such as 2026-11-02T08:00:00Z")
        .type_name("TIME");
}

inline void add_reason(Subcommand command, WorkbenchOptions& work) {
    command
        .add_option("--reason", work.reason,
                    "Accept an overdue calibration or a failed balance check, for this reason")
        .type_name("TEXT");
}

}  // namespace tipwright::program
