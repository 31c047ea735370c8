#include "bench/program/missing_word.hpp"

#include <CLI/CLI.hpp>
#include <string>
#include <string_view>

#include "bench/program/settings/settings.hpp"

namespace tipwright::program {

namespace {

const CLI::App& typed_command(const CLI::App& app) {
    const CLI::App* at = &app;
    while (!at->get_subcommands().empty()) at = at->get_subcommands().front();
    return *at;
}

std::string words_of(const CLI::App& command) {
    const CLI::App* above = command.get_parent();
    return above == nullptr ? command.get_name() : words_of(*above) + " " + command.get_name();
}

const CLI::Option* option_of_command(const CLI::App& command, const std::string& name) {
    for (const CLI::Option* option : command.get_options([](const CLI::Option*) { return true; }))
        if (option->get_name() == name) return option;
    return nullptr;
}

// A sentence of the help inside another.
std::string small_first(std::string text) {
    if (text.size() > 1 && text[0] >= 'A' && text[0] <= 'Z' && text[1] >= 'a' && text[1] <= 'z')
        text[0] = static_cast<char>(text[0] - 'A' + 'a');
    return text;
}

const SettingKey* setting_of(const CLI::Option& option) {
    for (const SettingKey& key : setting_keys())
        if (*key.environment != 0 ? option.get_envname() == key.environment : option.check_name(key.option))
            return &key;
    return nullptr;
}

}  // namespace

Fault unreadable_command_line(const CLI::App& app, const CLI::ParseError& error) {
    const CLI::App& command = typed_command(app);
    Fault out{FaultCode::usage, error.what(), "command line", "see '" + words_of(command) + " --help'"};
    for (char& c : out.what) c = c == '\n' ? ' ' : c;
    constexpr std::string_view required = " is required";
    if (!out.what.ends_with(required)) return out;
    const std::string name = out.what.substr(0, out.what.size() - required.size());
    const CLI::Option* option = option_of_command(command, name);
    if (option == nullptr) return out;
    out.what = name + " is missing: " + small_first(option->get_description());
    if (const SettingKey* key = setting_of(*option))
        out.remedy = "give it, or set " + std::string(key->key) +
                     " once in the settings: see 'tipwright settings --help'";
    return out;
}

}  // namespace tipwright::program
