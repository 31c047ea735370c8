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
    auto* settings =
        line.app.add_subcommand("settings", "Show each setting, its value and where that comes from");
    settings->footer(
        "Settings are read from ~/.config/tipwright/settings.toml (or $XDG_CONFIG_HOME) first, then from\n"
        "/etc/tipwright/settings.toml: lines like  bench = \"our-bench.toml\". Environment and command line "
        "go before both.\n"
        "TIPWRIGHT_SETTINGS names one file in their place; empty, none is read. See tipwright-settings(5).");
    settings->callback([&line] { line.chosen = [&line] { return show_settings(line.common); }; });
}

}  // namespace tipwright::program
