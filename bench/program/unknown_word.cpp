#include "bench/program/unknown_word.hpp"

#include <CLI/CLI.hpp>
#include <utility>

#include "bench/descriptions/nearest.hpp"
#include "bench/program/command_words.hpp"

namespace tipwright::program {

namespace {

std::vector<std::string> command_names(const CLI::App& app) {
    std::vector<std::string> out;
    for (const CLI::App* below : app.get_subcommands([](const CLI::App*) { return true; }))
        out.push_back(below->get_name());
    return out;
}

Fault unknown(const std::string& what, const std::string& word, const std::string& of,
              const std::vector<std::string>& names) {
    const std::string meant = bench::nearest(word, names);
    return {FaultCode::usage, "there is no " + what + " " + in_quotes(word) + of, "command line",
            meant.empty() ? "see 'tipwright --help'" : "did you mean " + in_quotes(meant) + "?"};
}

}  // namespace

std::optional<Fault> unknown_word(const CLI::App& app, const std::vector<std::string>& words) {
    const CLI::App* at = &app;
    std::string path;
    bool value_next = false;
    for (const std::string& word : words) {
        if (word == "--") return std::nullopt;
        if (word.size() > 2 && word.starts_with("--")) {
            const std::string name = word.substr(0, word.find('='));
            const CLI::Option* option = option_named(at, name);
            if (option == nullptr)
                return unknown("option", name, path.empty() ? "" : " of" + path, option_names(at));
            value_next = option->get_items_expected_min() > 0 && name == word;
            continue;
        }
        if (std::exchange(value_next, false) || word.starts_with("-")) continue;
        if (const CLI::App* below = command_named(*at, word)) {
            at = below;
            path += " " + word;
            continue;
        }
        const std::vector<std::string> names = command_names(*at);
        const std::string above = (path + " ").substr(1);
        if (!names.empty())
            return unknown("command", above + word, "", [&] {
                std::vector<std::string> whole;
                whole.reserve(names.size());
                for (const std::string& name : names) whole.push_back(above + name);
                return whole;
            }());
    }
    return std::nullopt;
}

}  // namespace tipwright::program
