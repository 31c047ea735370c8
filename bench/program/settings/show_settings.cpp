#include "bench/program/settings/show_settings.hpp"

#include "bench/program/register/session.hpp"
#include "bench/program/settings/settings.hpp"

namespace tipwright::program {

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

}  // namespace tipwright::program
