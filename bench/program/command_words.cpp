#include "bench/program/command_words.hpp"

#include <CLI/CLI.hpp>

namespace tipwright::program {

const CLI::Option* option_named(const CLI::App* command, const std::string& name) {
    for (; command != nullptr; command = command->get_parent())
        if (const CLI::Option* found = command->get_option_no_throw(name)) return found;
    return nullptr;
}

std::vector<std::string> option_names(const CLI::App* command) {
    std::vector<std::string> out;
    for (; command != nullptr; command = command->get_parent())
        for (const CLI::Option* option : command->get_options([](const CLI::Option*) { return true; }))
            if (!option->get_group().empty())
                for (const std::string& name : option->get_lnames()) out.push_back("--" + name);
    return out;
}

const CLI::App* command_named(const CLI::App& above, const std::string& name) {
    for (const CLI::App* one : above.get_subcommands([](const CLI::App*) { return true; }))
        if (one->get_name() == name) return one;
    return nullptr;
}

}  // namespace tipwright::program
