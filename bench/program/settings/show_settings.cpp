#include "bench/program/settings/show_settings.hpp"

#include "bench/program/command.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/settings/settings.hpp"

namespace tipwright::program {

namespace {

ExitCode show_settings(const CommonOptions& common) {
    const auto settings = Settings::load();
    if (!settings) return fail(common, settings.fault());
    report::Table table{{"setting", "value", "from", "what"}, {}, false};
    for (const SettingKey& key : setting_keys()) {
        const auto found = settings->find(key.key);
        table.rows.push_back({std::string(key.key),
                              found ? report::Table::Value(found->value) : report::Table::Value(),
                              found ? found->origin : std::string("not set"), std::string(key.what)});
    }
    return show(common, table);
}

}  // namespace

void add_settings(CommandLine& line) {
    const auto settings =
        line.app.add_subcommand("settings", "Show each setting, its value and where it comes from");
    settings.footer(
        "A setting is a line such as  bench = \"our-bench.toml\"  in /etc/tipwright/settings.toml or in your "
        "own\n"
        "~/.config/tipwright/settings.toml (or below $XDG_CONFIG_HOME), which overrides it. The environment\n"
        "overrides both, and the command line overrides all. TIPWRIGHT_SETTINGS names one file in place of\n"
        "both; if it is empty, none is read. See tipwright-settings(5).");
    settings.on_chosen([&line] { line.chosen = [&line] { return show_settings(line.common); }; });
}

}  // namespace tipwright::program
