#include "bench/program/nearest.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <utility>

namespace tipwright::program {

namespace {

std::size_t distance(const std::string& a, const std::string& b) {
    std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
    for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
    for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i)
        for (std::size_t j = 1; j <= b.size(); ++j) {
            d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] != b[j - 1])});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
        }
    return d[a.size()][b.size()];
}

// With those of the commands above it, which are taken anywhere.
const CLI::Option* option_named(const CLI::App* app, const std::string& name) {
    for (; app != nullptr; app = app->get_parent())
        for (const CLI::Option* option : app->get_options([](const CLI::Option*) { return true; }))
            if (option->check_name(name)) return option;
    return nullptr;
}

std::vector<std::string> option_names(const CLI::App* app) {
    std::vector<std::string> out;
    for (; app != nullptr; app = app->get_parent())
        for (const CLI::Option* option : app->get_options([](const CLI::Option*) { return true; }))
            if (option->nonpositional() && !option->get_group().empty())
                for (const std::string& name : option->get_lnames()) out.push_back("--" + name);
    return out;
}

std::vector<std::string> command_names(const CLI::App& app) {
    std::vector<std::string> out;
    for (const CLI::App* below : app.get_subcommands([](const CLI::App*) { return true; }))
        out.push_back(below->get_name());
    return out;
}

Fault unknown(const std::string& what, const std::string& word, const std::string& of,
              const std::vector<std::string>& names) {
    const auto meant = nearest(word, names);
    return {FaultCode::usage, "there is no " + what + " " + in_quotes(word) + of, "command line",
            meant ? "did you mean " + in_quotes(*meant) + "?" : "see 'tipwright --help'"};
}

}  // namespace

std::optional<std::string> nearest(const std::string& word, const std::vector<std::string>& names) {
    std::optional<std::string> best;
    std::size_t least = std::max<std::size_t>(1, word.size() / 3);
    for (const std::string& name : names) {
        const std::size_t d = distance(word, name);
        if (d > least || (best && d == least)) continue;
        best = name;
        least = d;
    }
    return best;
}

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
        const auto below = at->get_subcommands([&](const CLI::App* one) { return one->get_name() == word; });
        if (!below.empty()) {
            at = below.front();
            path += " " + word;
            continue;
        }
        const std::vector<std::string> names = command_names(*at);
        if (!names.empty())
            return unknown("command", (path + " " + word).substr(1), "", [&] {
                std::vector<std::string> whole;
                for (const std::string& name : names) whole.push_back((path + " " + name).substr(1));
                return whole;
            }());
    }
    return std::nullopt;
}

}  // namespace tipwright::program
