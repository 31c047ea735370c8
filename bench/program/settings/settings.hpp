// Settings: what a workshop says once instead of on every command line. Two files of TOML, either may be
// missing:
//   /etc/tipwright/settings.toml, then the person's own $XDG_CONFIG_HOME/tipwright/settings.toml (~/.config)
// The person's goes before the machine's; the environment and the command line go before both.
// TIPWRIGHT_SETTINGS names one file that takes the place of both; empty: none at all. Keys: see setting_keys.
// Errors name file and line.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace CLI {
class App;
}

namespace tipwright::program {

struct SettingKey {
    const char* key;
    const char* environment;  // goes before the files, and marks the options that are meant; empty: none
    const char* option;       // without an environment: the name of the options that are meant
    const char* what;
    std::vector<std::string_view> allowed = {};  // empty: any
};
const std::vector<SettingKey>& setting_keys();

struct Setting {
    std::string value;
    std::string origin;  // file:line
};

class Settings {
public:
    // Fault: those of reading TOML, unknown_field, bad_value, unsupported_version.
    static Result<Settings> load();

    std::optional<Setting> find(std::string_view key) const;
    std::string value_or(std::string_view key, std::string otherwise) const;
    // Gives each option of a setting that value, unless the command line or the environment says another.
    // Fault: bad_value (an option does not take it).
    Outcome apply_to(CLI::App& app) const;

private:
    Outcome read(const std::string& file);
    std::vector<std::pair<std::string, Setting>> given_;
};

}  // namespace tipwright::program
