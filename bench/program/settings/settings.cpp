#include "bench/program/settings/settings.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "bench/descriptions/toml_reader.hpp"
#include "bench/program/environment.hpp"
#include "calib/base/joined.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t largest_settings_bytes = std::size_t{64} << 10;

std::vector<std::string> files_of_this_place() {
    if (const char* named = std::getenv("TIPWRIGHT_SETTINGS"))
        return *named != 0 ? std::vector<std::string>{named} : std::vector<std::string>{};
    fs::path own = environment("XDG_CONFIG_HOME");
    if (own.empty() || !own.is_absolute()) {
        const std::string home = environment("HOME");
        if (home.empty()) return {"/etc/tipwright/settings.toml"};
        own = fs::path(home) / ".config";
    }
    return {"/etc/tipwright/settings.toml", (own / "tipwright" / "settings.toml").string()};
}

// "~/x" is in the person's home; a name that exists beside the settings file is meant there.
std::string placed(const std::string& value, const std::string& file) {
    if (value.starts_with("~/")) return (fs::path(environment("HOME")) / value.substr(2)).string();
    std::error_code ignored;
    const fs::path beside = fs::path(file).parent_path() / value;
    return fs::path(value).is_relative() && fs::exists(beside, ignored) ? beside.string() : value;
}

bool names_a_file(const std::string& key) {
    return key == "bench" || key == "plan_as_found" || key == "plan_as_left" || key == "work" ||
           key == "keys" || key == "register" || key == "letterhead";
}

// `serve` makes a bench of a virtual one: the workshop's own is not meant.
bool takes_settings(const CLI::App& command) {
    return command.get_name() != "serve";
}

bool means(const SettingKey& key, const CLI::Option& option) {
    return *key.environment != 0 ? option.get_envname() == key.environment : option.check_name(key.option);
}

Outcome apply_to_command(CLI::App& command, const SettingKey& key, const Setting& setting) {
    for (CLI::App* below : command.get_subcommands([](CLI::App*) { return true; }))
        if (auto applied = apply_to_command(*below, key, setting); !applied) return applied;
    if (!takes_settings(command)) return Done{};
    for (CLI::Option* option : command.get_options([](CLI::Option*) { return true; })) {
        if (!means(key, *option)) continue;
        try {
            option->required(false)->default_val(setting.value);
        } catch (const CLI::Error&) {
            return Fault{FaultCode::bad_value,
                         std::string(key.key) + " is " + in_quotes(setting.value) + ", which " +
                             option->get_name() + " does not take",
                         setting.origin, "see 'tipwright " + command.get_name() + " --help'"};
        }
    }
    return Done{};
}

}  // namespace

const std::vector<SettingKey>& setting_keys() {
    static const std::vector<SettingKey> keys{
        {"bench", "", "--bench", "bench description"},
        {"plan_as_found", "", "--plan-as-found", "plan of calibrate"},
        {"plan_as_left", "", "--plan-as-left", "plan of calibrate --as-left"},
        {"work", "TIPWRIGHT_WORK", "", "folder of the runs, with a folder in it for each gauge"},
        {"register", "TIPWRIGHT_REGISTER", "", "folder or server of the register"},
        {"enter",
         "",
         "--enter",
         "true: calibrate enters its result into the register without a further command",
         {"true", "false"}},
        {"person", "TIPWRIGHT_PERSON", "", "your name, as the register has it"},
        {"bench_code", "TIPWRIGHT_BENCH_CODE", "", "code of the bench in certificate numbers"},
        {"keys", "TIPWRIGHT_KEYS", "", "folder of the seal's keys"},
        {"check_gauge", "TIPWRIGHT_CHECK_GAUGE", "",
         "serial number of the check gauge, which must be in control before issue"},
        {"letterhead", "TIPWRIGHT_LETTERHEAD", "", "the laboratory's head and foot"},
        {"language", "", "--language", "of certificates: en, de, fr, es, or a words file"},
        {"paper", "", "--paper", "A4 or Letter", {"A4", "Letter"}},
        {"display_zone", "TIPWRIGHT_DISPLAY_ZONE", "",
         "time zone that times are shown in; files stay in UTC"},
        {"display_units", "TIPWRIGHT_DISPLAY_UNITS", "", "in/h: shown beside mm/h", {"mm/h", "in/h"}},
    };
    return keys;
}

Result<Settings> Settings::load() {
    Settings out;
    const bool named = std::getenv("TIPWRIGHT_SETTINGS") != nullptr;
    for (const std::string& file : files_of_this_place()) {
        Outcome read = out.read(file);
        if (!read && (named || read.fault().code != FaultCode::file_missing)) return read.fault();
    }
    return out;
}

namespace {

// Said of any command, not of those alone that would take the value.
Outcome check_allowed(const SettingKey& key, const std::string& value, const std::string& origin) {
    if (key.allowed.empty() || std::find(key.allowed.begin(), key.allowed.end(), value) != key.allowed.end())
        return Done{};
    std::string choice;
    for (const std::string_view one : key.allowed) add_part(choice, one, " or ");
    return Fault{FaultCode::bad_value, std::string(key.key) + " is " + in_quotes(value), origin,
                 "write " + choice};
}

}  // namespace

Outcome Settings::read(const std::string& file) {
    const auto text = read_file(file, largest_settings_bytes, "check TIPWRIGHT_SETTINGS");
    if (!text) return text.fault();
    const Result<bench::TomlValue> tree = bench::parse_toml({file, *text});
    if (!tree) return tree.fault();
    bench::FaultList faults(file);
    bench::TomlTable root(&*tree, {}, "", faults);
    if (root.has("version")) root.text("version");  // judged by parse_toml
    for (const SettingKey& key : setting_keys()) {
        if (!root.has(key.key)) {
            root.text_or(key.key, "");  // so that what is nearly its name is told
            continue;
        }
        // Yes or no is written bare in TOML; quoted it counts too.
        const bool bare = tree->find(key.key)->value.kind == bench::TomlKind::flag &&
                          std::find(key.allowed.begin(), key.allowed.end(), "true") != key.allowed.end();
        std::string value =
            bare ? std::string(root.flag(key.key, false) ? "true" : "false") : root.text(key.key);
        if (names_a_file(key.key)) value = placed(value, file);
        const std::string origin = file + ":" + std::to_string(root.at(key.key).line);
        if (auto fits = check_allowed(key, value, origin); !fits) return fits;
        std::erase_if(given_, [&](const auto& one) { return one.first == key.key; });
        given_.emplace_back(key.key, Setting{std::move(value), origin});
    }
    root.finish();
    if (faults.empty()) return Done{};
    Fault first = faults.first();
    if (first.code == FaultCode::unknown_field && !first.remedy.starts_with("did you mean"))
        first.remedy = "remove it; 'tipwright settings' shows every key";
    return first;
}

std::optional<Setting> Settings::find(std::string_view key) const {
    for (const SettingKey& known : setting_keys())
        if (known.key == key)
            if (std::string set = environment(known.environment); !set.empty())
                return Setting{std::move(set), known.environment};
    const auto found =
        std::find_if(given_.begin(), given_.end(), [&](const auto& one) { return one.first == key; });
    if (found == given_.end()) return std::nullopt;
    return found->second;
}

std::string Settings::value_or(std::string_view key, std::string otherwise) const {
    const auto found = find(key);
    if (found) return found->value;
    return otherwise;
}

Outcome Settings::apply_to(CLI::App& app) const {
    for (const SettingKey& key : setting_keys()) {
        const auto found =
            std::find_if(given_.begin(), given_.end(), [&](const auto& one) { return one.first == key.key; });
        if (found == given_.end()) continue;
        if (auto applied = apply_to_command(app, key, found->second); !applied) return applied;
    }
    return Done{};
}

}  // namespace tipwright::program
