#include <CLI/CLI.hpp>

#include "bench/program/instruments/instruments.hpp"
#include "bench/program/options/options.hpp"

namespace tipwright::program {

namespace {

void add_ports(CommandLine& line) {
    auto* command =
        line.app.add_subcommand("ports", "List the serial ports, with what their USB adapters are");
    command->callback([&line] { line.chosen = [&line] { return ports(line.common); }; });
}

void add_listen(CommandLine& line) {
    const auto options = std::make_shared<ListenOptions>();
    auto* command = line.app.add_subcommand(
        "listen", "Show the bytes of a link and what a profile reads from them, to write a profile");
    auto* link = command->add_option("--link", options->link,
                                     "\"serial /dev/ttyUSB0\", \"serial usb:SERIAL\", \"tcp HOST:PORT\", "
                                     "\"pty /dev/pts/3\", \"replay FILE\"");
    command->add_option("--profile", options->profile, "Instrument profile (default: bytes only)")
        ->type_name("FILE");
    auto* bench =
        command->add_option("--bench", options->bench, "Take link and profile from a bench description")
            ->type_name("FILE")
            ->excludes(link);
    command->add_option("--role", options->role, "Instrument of that bench")
        ->check(CLI::IsMember({"balance", "pump", "counter", "climate"}))
        ->needs(bench);
    command->add_option("--ask", options->ask, "Ask by the profile, in this order, again and again the last")
        ->check(CLI::IsMember({"identify", "read", "tare", "stop"}));
    command->add_option("--send", options->send, "Send these bytes first, with \\r \\n \\x1B; one a second")
        ->type_name("TEXT");
    command->add_option("--for", options->duration_s, "How long, s")
        ->check(CLI::Range(0.1, 1e6))
        ->capture_default_str();
    command->add_option("--lines", options->lines, "End when so many lines were understood")
        ->check(CLI::Range(1, 1000000));
    command->add_option("--record", options->record, "Keep the traffic in a file that can be replayed")
        ->type_name("FILE");
    command->add_option("--baud", options->serial.baud, "Line speed, without a profile")
        ->check(CLI::Range(300, 4000000))
        ->capture_default_str();
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return listen(line.common, *options); }; });
}

void add_work(CLI::App& command, WorkbenchOptions& work, const char* of_gauge) {
    command.add_option("--bench", work.bench, "Bench description")->required()->type_name("FILE");
    command.add_option("--gauge", work.gauge, of_gauge)->type_name("FILE");
    command
        .add_option("--checks", work.checks,
                    "File of pump calibrations and balance checks (default: beside the bench description)")
        ->type_name("FILE");
    command.add_option("--seed", work.seed, "Seed of a virtual bench")->capture_default_str();
    command.add_option("--speed", work.speed, "Of a served bench, as it was given to serve")
        ->check(CLI::Range(0.1, 100.0));
    command.add_option("--started-at", work.started_at, "Start on a virtual bench, as 2026-11-02T08:00:00Z")
        ->type_name("TIME");
}

void add_despite(CLI::App& command, WorkbenchOptions& work) {
    command
        .add_option("--reason", work.despite,
                    "Accept an overdue calibration or a failed balance check, for this reason")
        ->type_name("REASON");
}

void add_bench_check(CommandLine& line) {
    const auto options = std::make_shared<BenchCheckOptions>();
    auto* command = line.app.add_subcommand("bench-check", "Find and exercise every instrument of a bench");
    add_work(*command, options->work, "Gauge that stands on it: how many contacts, how large a tip");
    add_despite(*command, options->work);
    command->add_option("--watch", options->balance_s, "How long the balance is watched, s")
        ->check(CLI::Range(5.0, 3600.0))
        ->capture_default_str();
    command->add_option("--flow", options->flow_mL_min, "Of the pump, mL/min")
        ->check(CLI::Range(1.0, 20000.0))
        ->capture_default_str();
    command->add_option("--volume-mL", options->volume_mL, "To pump, at least four tips")
        ->check(CLI::Range(1.0, 5000.0))
        ->capture_default_str();
    command->add_flag("--without-water", options->without_water, "Leave the pump at rest");
    command->add_flag("--without-contacts", options->without_contacts,
                      "Do not wait for contacts moved by hand");
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return bench_check(line.common, *options); }; });
}

void add_pump_calibration(CommandLine& line) {
    const auto options = std::make_shared<PumpCalibrationOptions>();
    auto* command = line.app.add_subcommand(
        "pump-calibration", "Weigh what the pump delivers at some rates; runs start from the result");
    add_work(*command, options->work, "Gauge that stands on it: its tips close the weighings");
    add_despite(*command, options->work);
    command->add_option("--flows", options->flows_mL_min, "Rates to set, mL/min")
        ->check(CLI::Range(0.1, 20000.0))
        ->expected(1, 20)
        ->capture_default_str();
    command->add_option("--target", options->target_percent, "Standard uncertainty to reach at each, %")
        ->check(CLI::Range(0.01, 10.0))
        ->capture_default_str();
    command->add_option("--limit", options->limit_s, "Longest time at each, s")
        ->check(CLI::Range(10.0, 86400.0))
        ->capture_default_str();
    command->add_option("--tube-h", options->tube_h, "Hours the tube has run")->check(CLI::Range(0.0, 1e5));
    command->callback([&line, options] {
        line.chosen = [&line, options] { return pump_calibration(line.common, *options); };
    });
}

void add_balance_check(CommandLine& line) {
    const auto options = std::make_shared<BalanceCheckOptions>();
    auto* command = line.app.add_subcommand(
        "balance-check", "Weigh a reference mass; a balance that fails is not used until it passes");
    add_work(*command, options->work, "Gauge on a virtual bench");
    command->add_option("--mass-g", options->mass_g, "Conventional mass of the reference")
        ->required()
        ->check(CLI::Range(0.1, 1e5));
    command->add_option("--mass-u-g", options->mass_u_g, "Its standard uncertainty")
        ->check(CLI::Range(0.0, 100.0));
    command
        ->add_option("--limit-g", options->limit_g,
                     "Allowed error (default: what the balance's certificate allows there, k = 2)")
        ->check(CLI::Range(0.0, 1000.0));
    command->callback([&line, options] {
        line.chosen = [&line, options] { return balance_check(line.common, *options); };
    });
}

}  // namespace

void add_instrument_commands(CommandLine& line) {
    add_ports(line);
    add_listen(line);
    add_bench_check(line);
    add_pump_calibration(line);
    add_balance_check(line);
}

}  // namespace tipwright::program
