#include <CLI/CLI.hpp>

#include "bench/program/commands.hpp"
#include "bench/program/options/options.hpp"

namespace tipwright::program {

namespace {

void add_calibrate(CommandLine& line) {
    const auto options = std::make_shared<CalibrateOptions>();
    auto* command = line.app.add_subcommand("calibrate", "Run a plan on a bench and write the certificate");
    command->add_option("--bench", options->bench, "Bench description")->required()->type_name("FILE");
    command
        ->add_option("serial", options->serial,
                     "Serial of a gauge: from its file SERIAL.toml, or from the register")
        ->type_name("SERIAL");
    command->add_option("--gauge", options->gauge, "Gauge, or a gauge kind on a virtual bench")
        ->type_name("FILE");
    command
        ->add_option(
            "--plan", options->plan,
            "Plan of intensities and limits (default: plan_as_found or plan_as_left of the settings)")
        ->type_name("FILE");
    // Only the settings give these.
    command->add_option("--plan-as-found", options->plan_as_found)->group("");
    command->add_option("--plan-as-left", options->plan_as_left)->group("");
    command
        ->add_option(
            "--out", options->out,
            "Folder for journal, record, tables, certificate (default: a new one in the work folder)")
        ->type_name("DIR");
    add_work_folder(*command, options->work);
    command->add_option("--register", options->location, "Register that knows the gauge")
        ->envname("TIPWRIGHT_REGISTER")
        ->type_name("PLACE");
    command->add_option("--seed", options->seed, "Seed of a virtual bench")->capture_default_str();
    command
        ->add_option(
            "--speed", options->speed,
            "Run a virtual bench this many times as fast as the wall clock (default: as fast as can be)")
        ->check(CLI::Range(0.1, 100.0));
    command
        ->add_option("--started-at", options->started_at, "Start of a virtual run, as 2026-11-02T08:00:00Z")
        ->type_name("TIME");
    command
        ->add_option("--reason", options->despite,
                     "Accept an overdue calibration or a failed balance check; the record states this reason")
        ->type_name("REASON");
    command
        ->add_option("--checks", options->checks,
                     "File of pump calibrations and balance checks (default: beside the bench)")
        ->type_name("FILE");
    command->add_flag("--as-left", options->as_left, "State after adjustment (default: as found)");
    command->add_flag("--within-declared", options->within_declared,
                      "Leave out steps beyond the highest intensity the maker declares (default: refuse)");
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return calibrate(line.common, *options); }; });
}

void add_serve(CommandLine& line) {
    const auto options = std::make_shared<ServeOptions>();
    auto* command = line.app.add_subcommand(
        "serve", "Serve a virtual bench's instruments on pseudo-terminals or TCP (loopback), for trials");
    command->add_option("--bench", options->bench, "Virtual bench")->type_name("FILE")->capture_default_str();
    command->add_option("--gauge", options->gauge, "Gauge on it")->required()->type_name("FILE");
    command->add_option("--out", options->out, "Bench description to write, for calibrate --bench")
        ->required()
        ->type_name("FILE.toml");
    command->add_option("--seed", options->seed, "Seed")->capture_default_str();
    command->add_option("--speed", options->speed, "Times as fast as the wall clock; give calibrate the same")
        ->check(CLI::Range(0.1, 100.0))
        ->capture_default_str();
    command->add_option("--for", options->duration_s, "Bench time to serve, s (0: until Ctrl-C)")
        ->check(CLI::Range(0.0, 1e7));
    command->add_flag("--hand", options->hand,
                      "Take lines \"load GRAMS\" from standard input: a mass put on the pan");
    command->add_flag("--tcp", options->tcp, "TCP ports instead of pseudo-terminals");
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return serve(line.common, *options); }; });
}

}  // namespace

void add_bench_commands(CommandLine& line) {
    add_calibrate(line);
    add_serve(line);
}

}  // namespace tipwright::program
