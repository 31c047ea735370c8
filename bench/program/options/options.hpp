// How subcommands enter the command line: each group adds its own, and the one that was typed leaves in
// chosen what is to be done. A new group is a file here and a line in command_line.cpp.
#pragma once

#include <CLI/App.hpp>
#include <functional>
#include <memory>

#include "bench/program/commands.hpp"

namespace tipwright::program {

struct CommandLine {
    CLI::App& app;
    const CommonOptions& common;
    std::function<ExitCode()> chosen;
};

void add_bench_commands(CommandLine& line);     // calibrate, serve
void add_result_commands(CommandLine& line);    // evaluate, certify, verify, compare, list
void add_lanes_commands(CommandLine& line);     // lanes
void add_recovery_commands(CommandLine& line);  // recover
void add_workshop_commands(CommandLine& line);  // adjust, field-check
void add_register_commands(CommandLine& line);  // register, certificate, keys, pack, ask, life

// ports, listen, bench-check, pump-calibration, balance-check
void add_instrument_commands(CommandLine& line);

void add_settings_commands(CommandLine& line);  // settings, next

inline void add_work_folder(CLI::App& command, std::filesystem::path& work) {
    command.add_option("--work", work, "Folder of the runs, one below it for each gauge")
        ->envname("TIPWRIGHT_WORK")
        ->type_name("DIR")
        ->capture_default_str();
}

template <class Options>
void add_paper(CLI::App& command, Options& options) {
    command.add_option("--paper", options.paper, "Page size of the certificate")
        ->check(CLI::IsMember({"A4", "Letter"}))
        ->capture_default_str();
}

}  // namespace tipwright::program
