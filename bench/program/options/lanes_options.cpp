#include <CLI/CLI.hpp>

#include "bench/program/options/options.hpp"
#include "bench/program/run/lanes.hpp"

namespace tipwright::program {

void add_lanes_commands(CommandLine& line) {
    const auto options = std::make_shared<LanesOptions>();
    auto* command =
        line.app.add_subcommand("lanes", "Calibrate up to 16 gauges side by side, each on its own bench");
    command->add_option("lanes", options->lanes, "Which gauges on which benches")
        ->required()
        ->type_name("FILE");
    command->add_option("--out", options->out, "Folder; a folder for each lane is made in it")
        ->required()
        ->type_name("DIR");
    command->add_option("--speed", options->speed, "Of virtual benches, as for calibrate")
        ->check(CLI::Range(0.1, 100.0));
    command->add_option("--started-at", options->started_at, "Start of virtual runs, as 2026-11-02T08:00:00Z")
        ->type_name("TIME");
    command
        ->add_option("--reason", options->despite,
                     "Accept overdue calibrations or failed balance checks, for this reason")
        ->type_name("REASON");
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return run_lanes(line.common, *options); }; });
}

}  // namespace tipwright::program
