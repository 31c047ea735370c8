#include <CLI/CLI.hpp>

#include "bench/program/options/options.hpp"
#include "bench/program/run/recovery.hpp"

namespace tipwright::program {

void add_recovery_commands(CommandLine& line) {
    const auto options = std::make_shared<RecoverOptions>();
    auto* command = line.app.add_subcommand(
        "recover", "Handle an unfinished run: stop its pump, report what was kept, resume or close it");
    command->add_option("folder", options->folder, "Folder of the run")->required()->type_name("DIR");
    auto* resume = command->add_flag("--resume", options->resume, "Measure the steps that are missing");
    command->add_flag("--close", options->close, "End it as incomplete")->excludes(resume);
    command->add_option("--bench", options->bench, "The same bench, if its links have changed")
        ->type_name("FILE");
    command->add_option("--speed", options->speed, "Of a virtual bench, as for calibrate")
        ->check(CLI::Range(0.1, 100.0));
    command->add_flag("--as-left", options->as_left, "State after adjustment (default: as found)");
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return recover(line.common, *options); }; });
}

}  // namespace tipwright::program
