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

}  // namespace

void add_instrument_commands(CommandLine& line) {
    add_ports(line);
    add_listen(line);
}

}  // namespace tipwright::program
