#include "bench/program/options/verb.hpp"
#include "bench/program/register/next.hpp"
#include "bench/program/settings/show_settings.hpp"

namespace tipwright::program {

void add_settings_commands(CommandLine& line) {
    auto* settings =
        line.app.add_subcommand("settings", "Show each setting, its value and where that comes from");
    settings->footer(
        "Settings stand in /etc/tipwright/settings.toml and, before it, ~/.config/tipwright/settings.toml "
        "(or\n"
        "$XDG_CONFIG_HOME), as lines like  bench = \"our-bench.toml\". Environment and command line go "
        "before both.\n"
        "TIPWRIGHT_SETTINGS names one file in their place; empty, none is read.");
    settings->callback([&line] { line.chosen = [&line] { return show_settings(line.common); }; });

    auto next =
        add_verb(line, line.app, "next", "Say which command is the next one for a gauge, and why", say_next);
    next.command.add_option("serial", next->serial, "Serial number of the gauge")->required();
    add_session(next.command, next->session, false);
    add_work_folder(next.command, next->work);
}

}  // namespace tipwright::program
